// SPDX-License-Identifier: Apache-2.0
// The one test that tells two causes apart best, by what it would show under each.
#pragma once
#include <optional>
#include <string>
#include <vector>

namespace helmwater::steer {

// What a test without error would show of one draw, in the units an outlook states (mg/L as NH3, NO2, NO3, CaCO3; pH; mg/L;
// mg/L P; degC). The last two are without any deed until then.
struct Shown {
  double alkalinity = 0, oxygen = 0, temperature = 0, phosphate = 0, ph = 7, ammonia = 0, nitrite = 0, nitrate = 0;
  double ammonia_later = 0, nitrite_later = 0;
};
inline constexpr double kLaterDays = 3;

struct ShownDraw {
  std::string cause;
  double weight = 0;
  Shown shown;
};

struct TellingTest {
  std::string test;          // as in a log; empty: no reading tells them apart, do what `text` says
  double in_days = 0;
  std::string unit;
  struct Under {
    std::string cause;
    double low = 0, middle = 0, high = 0;  // 10, 50 and 90 % of what would be read
  };
  std::vector<Under> expected;  // of the first and the second cause
  double overlap = 1;        // share of readings that fit both alike: 0 tells, 1 says nothing
  std::string text;
};

// first, second: names of causes among the draws. `look`: what to do where no reading tells them apart.
TellingTest telling_test(const std::vector<ShownDraw>& draws, const std::string& first, const std::string& second,
                         const std::string& look);

}  // namespace helmwater::steer
