# SPDX-License-Identifier: Apache-2.0
# Writes OUTPUT, a C++ source that holds every file below DIST (the built page), as it is and packed with gzip where
# that program is at hand and gains something. A missing DIST gives an empty list.
# Run by the build: cmake -DOUTPUT=… -DDIST=… -P embed_web.cmake
find_program(GZIP gzip)
set(arrays "")
set(rows "")
set(number 0)
file(GLOB_RECURSE files LIST_DIRECTORIES false RELATIVE "${DIST}" "${DIST}/*")
foreach(file IN LISTS files)
  if(file MATCHES "\\.map$")
    continue()
  endif()
  file(SHA256 "${DIST}/${file}" sum)
  string(SUBSTRING "${sum}" 0 16 sum)
  file(READ "${DIST}/${file}" raw HEX)
  set(packed "")
  if(GZIP AND NOT file MATCHES "\\.(png|woff2|ico)$")
    execute_process(COMMAND ${GZIP} -9 -n -c "${DIST}/${file}" OUTPUT_FILE "${OUTPUT}.gz" COMMAND_ERROR_IS_FATAL ANY)
    file(READ "${OUTPUT}.gz" packed HEX)
    file(REMOVE "${OUTPUT}.gz")
  endif()
  foreach(form raw packed)
    string(LENGTH "${${form}}" digits)
    math(EXPR size_${form} "${digits} / 2")
    string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${${form}}")
    string(APPEND arrays "const unsigned char k${form}${number}[] = {${bytes}0};\n")
  endforeach()
  if(size_packed GREATER_EQUAL size_raw)
    set(size_packed 0)
  endif()
  string(APPEND rows "      {\"/${file}\", \"${sum}\", text(kraw${number}, ${size_raw}), text(kpacked${number}, ${size_packed})},\n")
  math(EXPR number "${number} + 1")
endforeach()
set(text_function "")
if(number GREATER 0)
  set(text_function "std::string_view text(const unsigned char* bytes, std::size_t size) { return {reinterpret_cast<const char*>(bytes), size}; }\n")
endif()
file(WRITE "${OUTPUT}" "// Written by cmake/embed_web.cmake; do not edit.
#include \"server/static_files.hpp\"

namespace helmwater::server {
namespace {
${text_function}${arrays}}  // namespace

const std::vector<StaticFile>& web_files() {
  static const std::vector<StaticFile> files{
${rows}  };
  return files;
}

}  // namespace helmwater::server
")
