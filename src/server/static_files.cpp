// SPDX-License-Identifier: Apache-2.0
#include "server/static_files.hpp"

#include <algorithm>

#include "server/packing.hpp"

namespace helmwater::server {
namespace {

std::string_view type_of(std::string_view path) {
  const std::string_view ending = path.substr(std::min(path.rfind('.'), path.size()));
  if (ending == ".html") return "text/html; charset=utf-8";
  if (ending == ".js" || ending == ".mjs") return "text/javascript; charset=utf-8";
  if (ending == ".css") return "text/css; charset=utf-8";
  if (ending == ".svg") return "image/svg+xml";
  if (ending == ".png") return "image/png";
  if (ending == ".ico") return "image/x-icon";
  if (ending == ".woff2") return "font/woff2";
  if (ending == ".json" || ending == ".webmanifest") return "application/json";
  if (ending == ".txt") return "text/plain; charset=utf-8";
  return "application/octet-stream";
}

constexpr std::string_view kNotBuilt =
    "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>Helmwater</title>"
    "<h1>The page was not built into this program</h1>"
    "<p>The JSON interface works: <a href=\"/api/loops\">/api/loops</a>. "
    "To have the page too, run <code>./dev build</code>, which builds web/ first.</p></html>\n";

}  // namespace

Response serve_file(const std::vector<StaticFile>& files, const Request& request) {
  if (request.method != "GET") {
    Response response = to_response({405, "wrong_method", "This address takes GET, HEAD.", ""});
    response.headers.emplace_back("Allow", "GET, HEAD");
    return response;
  }
  const bool page = request.path.find('.') == std::string::npos;
  const std::string_view wanted = page ? std::string_view("/index.html") : std::string_view(request.path);
  const auto file = std::find_if(files.begin(), files.end(), [&](const StaticFile& f) { return f.path == wanted; });
  Response response;
  if (file == files.end()) {
    if (!page) return to_response({404, "no_such_file", "There is no such file here.", ""});
    response.content_type = "text/html; charset=utf-8";
    response.body = kNotBuilt;
    response.headers.emplace_back("Cache-Control", "no-store");
    return response;
  }
  response.content_type = type_of(file->path);
  const std::string etag = "\"" + std::string(file->etag) + "\"";
  // Names below /assets/ carry a sum of their content; the others are asked for anew.
  response.headers.emplace_back("Cache-Control", file->path.starts_with("/assets/") ? "public, max-age=31536000, immutable" : "no-cache");
  response.headers.emplace_back("ETag", etag);
  response.headers.emplace_back("Vary", "Accept-Encoding");
  if (request.header("if-none-match").find(etag) != std::string::npos) {
    response.status = 304;
    return response;
  }
  if (!file->gzip.empty() && takes_gzip(request.header("accept-encoding"))) {
    response.headers.emplace_back("Content-Encoding", "gzip");
    response.body = file->gzip;
  } else {
    response.body = file->raw;
  }
  return response;
}

}  // namespace helmwater::server
