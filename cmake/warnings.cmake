# SPDX-License-Identifier: Apache-2.0
# Warnings are errors for every target of our own; an exemption stands beside its target with a reason.
add_library(helmwater_warnings INTERFACE)
target_compile_options(helmwater_warnings INTERFACE
  -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wimplicit-fallthrough -Werror)
