// SPDX-License-Identifier: Apache-2.0
#include "records/reading_form.hpp"

#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <utility>

#include "records/words.hpp"
#include "units/parse.hpp"

namespace helmwater::records {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

constexpr std::string_view kForms =
    "a number such as 0.5, a..b, <x, >x, ~x, hint, x+-s, each with ? if it is in doubt or *10 if the water was diluted";

// Signs from phones and spreadsheets, blanks removed, lower case.
std::string plain_form(std::string_view text) {
  constexpr std::array<std::pair<std::string_view, std::string_view>, 9> kSigns{{{"\xC2\xB1", "+-"},
                                                                                 {"\xE2\x89\xA5", ">"},
                                                                                 {"\xE2\x89\xA4", "<"},
                                                                                 {"\xE2\x88\x92", "-"},
                                                                                 {"\xC3\x97", "*"},
                                                                                 {"\xE2\x80\xA6", ".."},
                                                                                 {"\xC2\xA0", ""},
                                                                                 {">=", ">"},
                                                                                 {"<=", "<"}}};
  std::string out;
  while (!text.empty()) {
    bool replaced = false;
    for (const auto& [seen, meant] : kSigns) {
      if (text.substr(0, seen.size()) != seen) continue;
      out += meant;
      text.remove_prefix(seen.size());
      replaced = true;
      break;
    }
    if (replaced) continue;
    if (text.front() != ' ' && text.front() != '\t') out += text.front();
    text.remove_prefix(1);
  }
  return lower_case(out);
}

class FormReader {
 public:
  explicit FormReader(std::string_view written) : written_(written) {}

  tl::expected<WrittenReading, std::string> read() {
    const std::string plain = plain_form(written_);
    std::string_view text = plain;
    WrittenReading out;
    if (text.empty()) return refuse(fmt::format("a reading is missing; allowed: {}", kForms));
    strip_question_mark(text, out);
    if (const auto star = text.find('*'); star != std::string_view::npos) {
      if (!number(text.substr(star + 1), out.times)) return tl::unexpected(problem_);
      if (!(out.times > 1) || out.times > 1000)
        return refuse(fmt::format("{} is diluted by {}; a dilution is a number above 1 and at most 1000, for example "
                                  "{}*10 for one part in ten",
                                  in_quotes(written_), out.times, text.substr(0, star)));
      text = text.substr(0, star);
      strip_question_mark(text, out);
    }
    using Form = WrittenReading::Form;
    if (text == "hint") {
      out.form = Form::hint;
      return out;
    }
    if (const auto dots = text.find(".."); dots != std::string_view::npos) {
      out.form = Form::range;
      if (!number(text.substr(0, dots), out.x, &out) || !number(text.substr(dots + 2), out.y, &out))
        return tl::unexpected(problem_);
      if (out.y < out.x)
        return refuse(fmt::format("the range {} runs backwards; write {}..{}", in_quotes(written_), out.y, out.x));
      return out;
    }
    if (const auto sign = text.find("+-"); sign != std::string_view::npos) {
      out.form = Form::plus_minus;
      if (!number(text.substr(0, sign), out.x, &out) || !number(text.substr(sign + 2), out.y))
        return tl::unexpected(problem_);
      if (!(out.y > 0))
        return refuse(fmt::format("{} has no width; after +- write one standard deviation above 0", in_quotes(written_)));
      return out;
    }
    if (!text.empty() && (text.front() == '<' || text.front() == '>' || text.front() == '~')) {
      out.form = text.front() == '<' ? Form::less : text.front() == '>' ? Form::more : Form::about;
      text.remove_prefix(1);
    }
    if (!number(text, out.x, &out)) return tl::unexpected(problem_);
    return out;
  }

 private:
  static void strip_question_mark(std::string_view& text, WrittenReading& out) {
    if (text.empty() || text.back() != '?') return;
    out.doubted = true;
    text.remove_suffix(1);
  }

  tl::unexpected<std::string> refuse(std::string message) const { return tl::unexpected(std::move(message)); }

  bool number(std::string_view text, double& value, WrittenReading* reading = nullptr) {
    const std::string_view digits = !text.empty() && text.front() == '-' ? text.substr(1) : text;
    const bool starts_well = !digits.empty() && (digits.front() == '.' || (digits.front() >= '0' && digits.front() <= '9'));
    if (text.find(',') != std::string_view::npos) {
      problem_ = fmt::format("{} has a decimal comma; write a decimal point, for example 0.25", in_quotes(written_));
      return false;
    }
    const auto [end, status] = std::from_chars(text.data(), text.data() + text.size(), value);
    const bool whole = end == text.data() + text.size();
    if (starts_well && status == std::errc::result_out_of_range) {
      problem_ = fmt::format("{} is too large or too small to be a reading", in_quotes(written_));
      return false;
    }
    if (!starts_well || status != std::errc{} || !whole || !std::isfinite(value)) {
      problem_ = fmt::format("{} is not a reading; allowed: {}", in_quotes(written_), kForms);
      if (starts_well && status == std::errc{} && !whole) {
        const std::string_view rest(end, static_cast<std::size_t>(text.data() + text.size() - end));
        if (rest.front() == '-')
          problem_ = fmt::format("{} looks like a range; write it with two dots, for example 1..2", in_quotes(written_));
        else if ((rest.front() >= 'a' && rest.front() <= 'z') || rest.front() == '%')
          problem_ = fmt::format("{} has its unit inside the value; move it to the unit column", in_quotes(written_));
      }
      return false;
    }
    if (reading != nullptr && digits.size() > 1 && digits[0] == '0' && digits[1] >= '0' && digits[1] <= '9')
      reading->leading_zero = true;
    return true;
  }

  std::string_view written_;
  std::string problem_;
};

bool same_step(double a, double b) { return std::abs(a - b) <= 1e-9 * std::max(1.0, std::abs(b)); }

double edge_between(double lower, double upper, bool arithmetic) {
  if (arithmetic) return (lower + upper) / 2;
  if (lower == 0) return upper / 2;
  return std::sqrt(lower * upper);
}

std::string steps_text(const std::vector<double>& steps) {
  std::string out;
  for (double step : steps) out += (out.empty() ? "" : ", ") + fmt::format("{}", step);
  return out;
}

Seen interval(double low, double high) {
  Seen seen;
  seen.low = low;
  seen.high = high;
  return seen;
}

Seen normal(double centre, double sd, bool kit_noise) {
  Seen seen;
  seen.shape = Seen::Shape::normal;
  seen.centre = centre;
  seen.sd = sd;
  seen.low = centre - sd;
  seen.high = centre + sd;
  seen.kit_noise = kit_noise;
  return seen;
}

Seen lognormal(double centre, double sd, bool kit_noise) {
  Seen seen;
  seen.shape = Seen::Shape::lognormal;
  seen.centre = centre;
  seen.sd = sd;
  seen.low = centre * std::exp(-sd);
  seen.high = centre * std::exp(sd);
  seen.kit_noise = kit_noise;
  return seen;
}

// A number beside the steps of a chart, plain or with "~".
UnderstoodReading on_chart(const WrittenReading& written, const ReadingScale& scale) {
  const std::vector<double>& c = scale.steps;
  const double floor = scale.open_below ? -kInfinity : 0.0;
  const bool about = written.form == WrittenReading::Form::about;
  const double x = written.x;
  for (std::size_t k = 0; k < c.size(); ++k) {
    if (!same_step(x, c[k])) continue;
    const bool first = k == 0;
    const bool last = k + 1 == c.size();
    if (about) return {interval(first ? floor : c[k - 1], last ? kInfinity : c[k + 1]), {}};
    return {interval(first ? floor : edge_between(c[k - 1], c[k], scale.arithmetic),
                     last ? kInfinity : edge_between(c[k], c[k + 1], scale.arithmetic)),
            {}};
  }
  UnderstoodReading out;
  std::string taken;
  if (x > c.back()) {
    out.seen = interval(c.back(), kInfinity);
    taken = fmt::format("{} or more", c.back());
  } else if (x < c.front()) {
    out.seen = interval(floor, c.front());
    taken = fmt::format("{} or less", c.front());
  } else {
    std::size_t k = 0;
    while (c[k + 1] < x) ++k;
    const double low = c[k] == 0 && !scale.arithmetic ? x / 4 : c[k];
    out.seen = interval(low, c[k + 1]);
    taken = fmt::format("between {} and {}", low, c[k + 1]);
  }
  out.odd = fmt::format("{} is not a step of the kit's chart ({}): taken as {}; write a step, or a..b for a range you saw.",
                        x, steps_text(c), taken);
  return out;
}

// A number without a chart, plain or with "~" (twice as wide).
UnderstoodReading without_chart(const WrittenReading& written, const ReadingScale& scale) {
  const double widen = written.form == WrittenReading::Form::about ? 2 : 1;
  if (scale.normal)
    return {normal(written.x, widen * std::max(scale.sd, scale.sd_relative * written.x), scale.kit_noise), {}};
  if (written.x == 0) return {interval(0, widen * scale.zero_limit), {}};
  return {lognormal(written.x, widen * scale.sd, scale.kit_noise), {}};
}

void dilute(Seen& seen, double times) {
  seen.low *= times;
  seen.high *= times;
  seen.centre *= times;
  if (seen.shape == Seen::Shape::normal) seen.sd *= times;
}

}  // namespace

tl::expected<WrittenReading, std::string> parse_written_reading(std::string_view text) { return FormReader(text).read(); }

tl::expected<UnderstoodReading, std::string> understand(const WrittenReading& written, const ReadingScale& scale) {
  using Form = WrittenReading::Form;
  const auto refuse = [](std::string message) { return tl::unexpected(std::move(message)); };
  const auto in_range = [&](double number) { return number >= scale.lowest && number <= scale.highest; };
  if (written.form != Form::hint && (!in_range(written.x) || (written.form == Form::range && !in_range(written.y)))) {
    const double seen = in_range(written.x) ? written.y : written.x;
    return refuse(fmt::format("{}{} is outside what such a reading can be; allowed: {}; check the number and the unit",
                              seen < 0 ? "negative amount: " : "", units::number_text(seen, 6), scale.allowed));
  }
  if (written.times != 1 && !scale.may_dilute)
    return refuse("only concentrations can be diluted; leave out the *");

  const double floor = scale.open_below ? -kInfinity : 0.0;
  UnderstoodReading out;
  switch (written.form) {
    case Form::plain:
    case Form::about:
      out = scale.steps.empty() ? without_chart(written, scale) : on_chart(written, scale);
      break;
    case Form::less:
      if (!scale.open_below && written.x == 0)
        return refuse("less than 0 says nothing; write 0 for no colour seen, or hint");
      out.seen = interval(floor, written.x);
      break;
    case Form::more:
      out.seen = interval(written.x, kInfinity);
      break;
    case Form::range:
      if (written.x == written.y) {
        WrittenReading plain = written;
        plain.form = Form::plain;
        out = scale.steps.empty() ? without_chart(plain, scale) : on_chart(plain, scale);
        out.odd = fmt::format("The range {0}..{0} has no width: taken as the plain number {0}; write the two ends you saw.",
                              written.x);
      } else {
        out.seen = interval(written.x, written.y);
      }
      break;
    case Form::hint: {
      if (scale.open_below || !scale.may_dilute)
        return refuse("\"hint\" is for tests that start at zero; write a number, or <x");
      double first = 2 * scale.zero_limit;
      for (double step : scale.steps) {
        if (!(step > 0)) continue;
        first = step;
        break;
      }
      if (scale.steps.empty())
        out.odd = fmt::format("The kit's steps are not known: the hint was taken as {} to {}; list the steps in loop.toml.",
                              units::number_text(first / 8), units::number_text(first));
      out.seen = interval(first / 8, first);
      break;
    }
    case Form::plus_minus:
      out.seen = normal(written.x, written.y, false);
      break;
  }
  if (written.times != 1) dilute(out.seen, written.times);
  out.seen.doubted = written.doubted;
  return out;
}

}  // namespace helmwater::records
