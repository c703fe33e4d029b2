// SPDX-License-Identifier: Apache-2.0
#include "run_program.hpp"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <stdexcept>

extern char** environ;

namespace helmwater::cli_test {
namespace {

constexpr std::chrono::minutes kLongest{1};

struct Pipe {
  int read = -1;
  int write = -1;
  Pipe() {
    int ends[2];
    if (pipe2(ends, O_CLOEXEC) != 0) throw std::runtime_error("pipe2 failed");
    read = ends[0], write = ends[1];
  }
  Pipe(const Pipe&) = delete;
  Pipe& operator=(const Pipe&) = delete;
  ~Pipe() { close_read(), close_write(); }
  void close_read() {
    if (read >= 0) close(read);
    read = -1;
  }
  void close_write() {
    if (write >= 0) close(write);
    write = -1;
  }
};

std::vector<std::string> environment_with(const std::map<std::string, std::string>& more) {
  std::vector<std::string> out;
  for (char** entry = environ; *entry != nullptr; ++entry) {
    const std::string text = *entry;
    const std::string name = text.substr(0, text.find('='));
    if (!more.contains(name) && name != "HELMWATER_CACHE") out.push_back(text);
  }
  for (const auto& [name, value] : more) out.push_back(name + "=" + value);
  if (!more.contains("HELMWATER_CACHE")) out.push_back("HELMWATER_CACHE=");  // nothing is kept between tests
  return out;
}

std::vector<char*> pointers(std::vector<std::string>& texts) {
  std::vector<char*> out;
  for (std::string& text : texts) out.push_back(text.data());
  out.push_back(nullptr);
  return out;
}

// Reads both pipes until the program has closed them; false: it took too long.
bool drain(Pipe& out, Pipe& err, Said& run) {
  const auto deadline = std::chrono::steady_clock::now() + kLongest;
  std::array<pollfd, 2> watched{pollfd{out.read, POLLIN, 0}, pollfd{err.read, POLLIN, 0}};
  std::array<std::string*, 2> into{&run.out, &run.err};
  while (watched[0].fd >= 0 || watched[1].fd >= 0) {
    const auto left =
        std::chrono::duration_cast<std::chrono::milliseconds>(deadline - std::chrono::steady_clock::now());
    if (left.count() <= 0) return false;
    if (poll(watched.data(), watched.size(), static_cast<int>(left.count())) < 0 && errno != EINTR)
      throw std::runtime_error("poll failed");
    for (std::size_t i = 0; i < watched.size(); ++i) {
      if (watched[i].fd < 0 || watched[i].revents == 0) continue;
      char buffer[65536];
      const ssize_t got = read(watched[i].fd, buffer, sizeof buffer);
      if (got > 0)
        into[i]->append(buffer, static_cast<std::size_t>(got));
      else if (got == 0 || errno != EINTR)
        watched[i].fd = -1;
    }
  }
  return true;
}

}  // namespace

Said helmwater(const std::vector<std::string>& arguments, const Surroundings& around) {
  Pipe out, err;
  posix_spawn_file_actions_t files;
  posix_spawn_file_actions_init(&files);
  if (around.input_closed)
    posix_spawn_file_actions_addclose(&files, 0);
  else
    posix_spawn_file_actions_addopen(&files, 0, "/dev/null", O_RDONLY, 0);
  if (around.output_to.empty())
    posix_spawn_file_actions_adddup2(&files, out.write, 1);
  else
    posix_spawn_file_actions_addopen(&files, 1, around.output_to.c_str(), O_WRONLY, 0);
  posix_spawn_file_actions_adddup2(&files, err.write, 2);
  posix_spawnattr_t attributes;
  posix_spawnattr_init(&attributes);
  posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSID);  // a session without a terminal

  std::vector<std::string> words{HELMWATER_PROGRAM};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<std::string> environment = environment_with(around.environment);
  pid_t child = -1;
  const int failed = posix_spawn(&child, HELMWATER_PROGRAM, &files, &attributes, pointers(words).data(),
                                 pointers(environment).data());
  posix_spawn_file_actions_destroy(&files);
  posix_spawnattr_destroy(&attributes);
  if (failed != 0) throw std::runtime_error("cannot start " HELMWATER_PROGRAM);
  out.close_write();
  err.close_write();

  Said run;
  const bool in_time = drain(out, err, run);
  if (!in_time) kill(child, SIGKILL);
  int status = 0;
  while (waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }
  if (in_time && WIFEXITED(status)) run.exit_code = WEXITSTATUS(status);
  return run;
}

}  // namespace helmwater::cli_test
