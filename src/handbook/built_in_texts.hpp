// SPDX-License-Identifier: Apache-2.0
// The texts of data/handbook as the build put them into the program (cmake/embed_texts.cmake).
#pragma once
#include <string_view>

namespace helmwater::handbook {

extern const std::string_view kReagentsToml;
extern const std::string_view kPriorsToml;
extern const std::string_view kLimitsToml;
extern const std::string_view kFishToml;
extern const std::string_view kCausesToml;
extern const std::string_view kSchemaToml;
extern const std::string_view kSourcesBib;

}  // namespace helmwater::handbook
