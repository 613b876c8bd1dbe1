# Run at each build: writes OUT when the commit changed, and leaves it alone otherwise. A source tree without its
# repository has no commit to tell.
set(commit "")
find_package(Git QUIET)
if(GIT_FOUND AND EXISTS ${SOURCE}/.git)
  execute_process(COMMAND ${GIT_EXECUTABLE} --no-optional-locks -C ${SOURCE} describe --always --dirty --abbrev=12
                  OUTPUT_VARIABLE commit OUTPUT_STRIP_TRAILING_WHITESPACE ERROR_QUIET)
endif()
set(text "// Written at each build in which the commit changed.
#include \"version.hpp\"

namespace hb::cli {
std::string_view commit() { return \"${commit}\"; }
}  // namespace hb::cli
")
file(CONFIGURE OUTPUT ${OUT} CONTENT "${text}" @ONLY)  # writes only what differs
