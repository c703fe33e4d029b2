# SPDX-License-Identifier: Apache-2.0
# helmwater_library(NAME SOURCES a.cpp … LINKS lib …)
# One library per folder of src/. LINKS names every other folder it may include; cmake/check_layers.py holds
# the includes to the same arrows.
function(helmwater_library name)
  cmake_parse_arguments(ARG "" "" "SOURCES;LINKS" ${ARGN})
  if(ARG_SOURCES)
    add_library(helmwater_${name} STATIC ${ARG_SOURCES})
    target_include_directories(helmwater_${name} PUBLIC ${PROJECT_SOURCE_DIR}/src)
    target_link_libraries(helmwater_${name} PUBLIC ${ARG_LINKS} PRIVATE helmwater_warnings)
  else()
    add_library(helmwater_${name} INTERFACE)
    target_include_directories(helmwater_${name} INTERFACE ${PROJECT_SOURCE_DIR}/src)
    target_link_libraries(helmwater_${name} INTERFACE ${ARG_LINKS})
  endif()
endfunction()

# helmwater_test(NAME SOURCES a.cpp … LINKS lib …): one GoogleTest program, registered with CTest test by test.
function(helmwater_test name)
  cmake_parse_arguments(ARG "" "" "SOURCES;LINKS" ${ARGN})
  add_executable(test_${name} ${ARG_SOURCES})
  target_link_libraries(test_${name} PRIVATE ${ARG_LINKS} GTest::gtest_main helmwater_warnings)
  target_compile_definitions(test_${name} PRIVATE
    HELMWATER_TEST_DATA="${PROJECT_SOURCE_DIR}/tests" HELMWATER_SOURCE="${PROJECT_SOURCE_DIR}")
  gtest_discover_tests(test_${name} TEST_PREFIX "${name}." DISCOVERY_TIMEOUT 60)
endfunction()
