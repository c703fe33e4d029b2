// SPDX-License-Identifier: Apache-2.0
#include "page_style.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <cstdlib>
#include <string>

namespace helmwater::app {
namespace {

constexpr int kUsual = 80, kNarrowest = 60, kWidest = 120;  // columns

const char* set_variable(const char* name) {
  const char* value = std::getenv(name);
  return value != nullptr && *value != '\0' ? value : nullptr;
}

// POSIX order of precedence. A bare environment (a service, a container) names no locale; files are UTF-8
// there too.
bool is_utf8_locale() {
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    const char* value = set_variable(name);
    if (value == nullptr) continue;
    std::string letters;
    for (const char c : std::string(value)) {
      if (c != '-') letters += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    }
    return letters.find("utf8") != std::string::npos;
  }
  return true;
}

int columns_of(bool terminal) {
  if (const char* wish = set_variable("COLUMNS")) {
    if (const int columns = std::atoi(wish); columns > 0) return columns;
  }
  winsize size{};
  if (terminal && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0) return size.ws_col;
  return kUsual;
}

}  // namespace

PageStyle page_style_from_environment() {
  const bool terminal = isatty(STDOUT_FILENO) != 0;
  const char* kind = set_variable("TERM");
  PageStyle style;
  style.columns = std::clamp(columns_of(terminal), kNarrowest, kWidest);
  style.colour =
      terminal && set_variable("NO_COLOR") == nullptr && !(kind != nullptr && std::string(kind) == "dumb");
  style.utf8 = is_utf8_locale();
  return style;
}

}  // namespace helmwater::app
