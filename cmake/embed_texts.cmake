# SPDX-License-Identifier: Apache-2.0
# Writes OUTPUT, a C++ source in which each text of FILES is a std::string_view, so that the program needs no file
# beside it. Run by the build: cmake -DOUTPUT=… -DNAMESPACE=… -DFILES=a.toml|b.toml -P embed_texts.cmake
# The name is k + the file's name in capitals at word starts: priors.toml -> kPriorsToml.
string(REPLACE "|" ";" files "${FILES}")
set(body "// Written by cmake/embed_texts.cmake; do not edit.\n#include <string_view>\n\nnamespace ${NAMESPACE} {\n")
foreach(file IN LISTS files)
  file(READ "${file}" text)
  get_filename_component(name "${file}" NAME)
  string(REGEX MATCHALL "[A-Za-z0-9]+" words "${name}")
  set(constant k)
  foreach(word IN LISTS words)
    string(SUBSTRING "${word}" 0 1 head)
    string(SUBSTRING "${word}" 1 -1 tail)
    string(TOUPPER "${head}" head)
    string(APPEND constant "${head}${tail}")
  endforeach()
  string(APPEND body "extern const std::string_view ${constant};\n"
                     "const std::string_view ${constant} = R\"embedded(${text})embedded\";\n")
endforeach()
string(APPEND body "}  // namespace ${NAMESPACE}\n")
file(WRITE "${OUTPUT}" "${body}")
