# The newest release in CHANGELOG.md: its version must be the project's, its date stands in the manual.
file(STRINGS CHANGELOG.md HB_RELEASES REGEX "^## [0-9]")
list(GET HB_RELEASES 0 newest)
if(NOT newest MATCHES "^## ([0-9.]+) \\(([0-9]+-[0-9]+-[0-9]+)\\)$" OR NOT CMAKE_MATCH_1 VERSION_EQUAL PROJECT_VERSION)
  message(FATAL_ERROR "CHANGELOG.md begins with '${newest}': expected '## ${PROJECT_VERSION} (YYYY-MM-DD)'.")
endif()
set(HB_RELEASE_DATE ${CMAKE_MATCH_2})
