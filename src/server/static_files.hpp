// SPDX-License-Identifier: Apache-2.0
// The page's own files, built into the program.
#pragma once
#include <string_view>
#include <vector>

#include "server/message.hpp"

namespace helmwater::server {

struct StaticFile {
  std::string_view path;  // "/assets/index-1a2b.js"
  std::string_view etag;  // without quotes
  std::string_view raw;
  std::string_view gzip;  // empty: not worth it
};
// Written by cmake/embed_web.cmake from web/dist; empty if the page was not built.
const std::vector<StaticFile>& web_files();

// Any address that is not of the API; one without a dot is the page's own business and gets its index.
Response serve_file(const std::vector<StaticFile>& files, const Request& request);

}  // namespace helmwater::server
