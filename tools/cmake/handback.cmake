# The project's own build vocabulary.
#
# Direction is enforced by include directories: a folder's public headers are linked into an include
# directory that belongs to its target alone, and travel only along target_link_libraries. An include that
# the target graph does not allow is a missing file.

set(HB_FLAGS -Wall -Wextra -Wpedantic -Wshadow -Wnon-virtual-dtor -Wold-style-cast -Woverloaded-virtual
             -Wconversion -Wno-sign-conversion)
if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
  # A false alarm of GCC 12 about Asio's coroutine frames, which are made and freed by one pair of functions.
  list(APPEND HB_FLAGS -Wno-mismatched-new-delete)
  # With the library precompiled GCC 12 takes sums of texts for overflows (its bugs 105329, 105651).
  list(APPEND HB_FLAGS -Wno-array-bounds -Wno-stringop-overflow -Wno-restrict)
endif()
if(HB_WERROR)
  list(APPEND HB_FLAGS -Werror)
endif()
# A program knows no folder of the machine that built it.
list(APPEND HB_FLAGS -ffile-prefix-map=${PROJECT_SOURCE_DIR}/=)

function(hb_flags target)
  target_compile_features(${target} PUBLIC cxx_std_20)
  target_compile_options(${target} PRIVATE ${HB_FLAGS})
  set_property(GLOBAL APPEND PROPERTY HB_COMPILED ${target})
endfunction()

# hb_library(TARGET HEADERS h... SOURCES s... DEPS public... PRIVATE_DEPS private... [AT path])
# Called from the folder that it names; includes read "harness/link/link.hpp", from the tree's root, or from
# the path that AT gives instead.
function(hb_library target)
  cmake_parse_arguments(A "" "AT" "HEADERS;SOURCES;DEPS;PRIVATE_DEPS" ${ARGN})
  file(RELATIVE_PATH here ${PROJECT_SOURCE_DIR} ${CMAKE_CURRENT_SOURCE_DIR})
  if(A_AT)
    set(here ${A_AT})
  endif()
  set(inc ${PROJECT_BINARY_DIR}/include/${target})
  file(REMOVE_RECURSE ${inc})
  foreach(h ${A_HEADERS})
    get_filename_component(sub ${h} DIRECTORY)
    file(MAKE_DIRECTORY ${inc}/${here}/${sub})
    file(CREATE_LINK ${CMAKE_CURRENT_SOURCE_DIR}/${h} ${inc}/${here}/${h} SYMBOLIC)
  endforeach()
  if(A_SOURCES)
    add_library(${target} STATIC ${A_SOURCES})
    target_include_directories(${target} PUBLIC ${inc})
    target_link_libraries(${target} PUBLIC ${A_DEPS} PRIVATE ${A_PRIVATE_DEPS})
    hb_flags(${target})
  else()
    add_library(${target} INTERFACE)
    target_include_directories(${target} INTERFACE ${inc})
    target_link_libraries(${target} INTERFACE ${A_DEPS})
  endif()
endfunction()

# hb_test(NAME SOURCES s... DEPS d... LABELS l... TIMEOUT s): a GoogleTest program, one ctest entry a case.
function(hb_test target)
  cmake_parse_arguments(A "WHOLE" "TIMEOUT" "SOURCES;DEPS;LABELS;ENVIRONMENT" ${ARGN})
  if(NOT A_TIMEOUT)
    set(A_TIMEOUT 120)
  endif()
  add_executable(${target} ${A_SOURCES})
  target_link_libraries(${target} PRIVATE ${A_DEPS} GTest::gtest GTest::gmock GTest::gtest_main)
  target_compile_definitions(${target} PRIVATE HB_SOURCE_DIR="${PROJECT_SOURCE_DIR}"
                                               HB_BINARY_DIR="${PROJECT_BINARY_DIR}")
  hb_flags(${target})
  if(NOT A_LABELS)
    set(A_LABELS quick)  # an empty list would vanish from the property list and shift what follows
  endif()
  set(properties TIMEOUT ${A_TIMEOUT} LABELS "${A_LABELS}")
  if(A_ENVIRONMENT)
    list(APPEND properties ENVIRONMENT "${A_ENVIRONMENT}")
  endif()
  if(A_WHOLE)
    add_test(NAME ${target} COMMAND ${target})
    set_tests_properties(${target} PROPERTIES ${properties})
  else()
    gtest_discover_tests(${target} DISCOVERY_TIMEOUT 60 PROPERTIES ${properties})
  endif()
endfunction()

# hb_fuzz(NAME SOURCES s... DEPS d... CORPUS dir): one LLVMFuzzerTestOneInput. With HB_FUZZ a libFuzzer
# program; always a replay of the kept corpus under ctest, with any compiler.
function(hb_fuzz target)
  cmake_parse_arguments(A "" "CORPUS" "SOURCES;DEPS" ${ARGN})
  add_executable(${target} ${A_SOURCES})
  target_link_libraries(${target} PRIVATE ${A_DEPS})
  hb_flags(${target})
  if(HB_FUZZ)
    target_link_options(${target} PRIVATE -fsanitize=fuzzer)
  else()
    target_sources(${target} PRIVATE ${PROJECT_SOURCE_DIR}/tests/fuzz/replay_main.cpp)
    add_test(NAME fuzz_replay.${target} COMMAND ${target} ${A_CORPUS})
    set_tests_properties(fuzz_replay.${target} PROPERTIES LABELS fuzz TIMEOUT 60)
  endif()
endfunction()

# hb_check(NAME SOURCES s... ACQUIRE a... DEPS d...): a check folder; appends itself to the list of checks. SOURCES
# are pure and see neither Asio nor a phone; ACQUIRE is the part that waits. hb_check_NAME is the whole.
function(hb_check name)
  cmake_parse_arguments(A "" "" "SOURCES;ACQUIRE;DEPS" ${ARGN})
  hb_library(hb_pure_${name} HEADERS ${name}.hpp SOURCES ${A_SOURCES} DEPS hb_contract ${A_DEPS}
             PRIVATE_DEPS hb_kernel AT checks/${name})
  hb_library(hb_check_${name} SOURCES ${A_ACQUIRE} DEPS hb_pure_${name} hb_check hb_phone
             PRIVATE_DEPS hb_kernel ${A_DEPS} AT checks/${name})
  set_property(GLOBAL APPEND PROPERTY HB_CHECKS ${name})
endfunction()

# hb_registry(TARGET CHECKS names...): a library with all_checks() over these checks. It is written from the
# folders: a static registrar in a static library is dropped by the linker without a word, a name missing here
# is a link error. A folder battery_level holds the struct BatteryLevel.
function(hb_registry target)
  cmake_parse_arguments(A "" "" "CHECKS" ${ARGN})
  set(includes "")
  set(entries "")
  set(libs "")
  foreach(n ${A_CHECKS})
    string(REGEX REPLACE "_([a-z])" ";\\1" words "_${n}")
    set(camel "")
    foreach(w ${words})
      if(w)
        string(SUBSTRING ${w} 0 1 head)
        string(SUBSTRING ${w} 1 -1 tail)
        string(TOUPPER ${head} head)
        string(APPEND camel ${head}${tail})
      endif()
    endforeach()
    string(APPEND includes "#include \"checks/${n}/${n}.hpp\"\n")
    string(APPEND entries "  all.push_back(std::make_unique<Erased<${camel}>>());\n")
    list(APPEND libs hb_check_${n})
  endforeach()
  file(GENERATE OUTPUT ${CMAKE_CURRENT_BINARY_DIR}/${target}.cpp CONTENT
"// Written by hb_registry().
#include \"checks/registry.hpp\"

#include \"checks/erased.hpp\"
${includes}
namespace hb::checks {
std::vector<std::unique_ptr<AnyCheck>> all_checks() {
  std::vector<std::unique_ptr<AnyCheck>> all;
${entries}  return all;
}
}  // namespace hb::checks
")
  hb_library(${target} SOURCES ${CMAKE_CURRENT_BINARY_DIR}/${target}.cpp DEPS hb_registry_header PRIVATE_DEPS hb_check ${libs})
endfunction()

# hb_manual_of(PROGRAM ARGS...): has the program write its manual pages and completions into share/ of the build
# folder, with ARGS and that folder as its arguments. Part of `all`, not of the program's own target.
function(hb_manual_of target)
  set(stamp ${CMAKE_CURRENT_BINARY_DIR}/${target}.manual)
  add_custom_command(OUTPUT ${stamp} COMMAND ${target} ${ARGN} ${PROJECT_BINARY_DIR}/share
                     COMMAND ${CMAKE_COMMAND} -E touch ${stamp} DEPENDS ${target} VERBATIM)
  add_custom_target(${target}_manual ALL DEPENDS ${stamp})
endfunction()

# Precompiled headers: what nearly every source of a kind reads anyway. Which of them a target gets follows from
# what it links, so that a target that may not see Asio does not see it through this door either.
option(HB_PCH "precompiled headers" ON)

# hb_pch(KIND HEADERS headers... DEPS libraries...): the library whose compiled header others of that kind use again.
function(hb_pch kind)
  cmake_parse_arguments(A "" "" "HEADERS;DEPS" ${ARGN})
  set(empty ${PROJECT_BINARY_DIR}/pch/${kind}.cpp)
  file(CONFIGURE OUTPUT ${empty} CONTENT "namespace {}  // carries the precompiled header '@kind@'\n" @ONLY)
  add_library(hb_pch_${kind} STATIC ${empty})
  hb_flags(hb_pch_${kind})  # -Wpedantic defines macros: all must say it alike
  target_link_libraries(hb_pch_${kind} PRIVATE ${A_DEPS})
  target_precompile_headers(hb_pch_${kind} PRIVATE ${A_HEADERS})
endfunction()

# Everything that a target links, its libraries' libraries included, into the variable `out`.
function(hb_closure target out)
  set(todo ${target})
  set(seen "")
  while(todo)
    list(POP_FRONT todo t)
    if(t IN_LIST seen OR NOT TARGET ${t})
      continue()
    endif()
    list(APPEND seen ${t})
    get_target_property(kind ${t} TYPE)
    set(properties INTERFACE_LINK_LIBRARIES)
    if(NOT kind STREQUAL "INTERFACE_LIBRARY" AND t STREQUAL target)
      set(properties LINK_LIBRARIES)  # private ones count for the target itself alone
    endif()
    get_target_property(libs ${t} ${properties})
    if(libs)
      list(FILTER libs EXCLUDE REGEX "LINK_ONLY")
      list(APPEND todo ${libs})
    endif()
  endwhile()
  set(${out} ${seen} PARENT_SCOPE)
endfunction()

# Called once, after all targets are there.
function(hb_precompile)
  if(NOT HB_PCH)
    return()
  endif()
  set(std <algorithm> <array> <chrono> <cmath> <cstdint> <filesystem> <functional> <map> <memory> <optional>
          <set> <span> <string> <string_view> <variant> <vector> <fmt/format.h>)
  set(json ${std} <nlohmann/json.hpp>)
  set(net ${json} "<harness/net/asio.hpp>")
  set(gtest <gtest/gtest.h> <gmock/gmock.h>)
  get_property(targets GLOBAL PROPERTY HB_COMPILED)
  foreach(t ${targets})
    hb_closure(${t} libs)
    if(NOT fmt::fmt IN_LIST libs)
      continue()
    endif()
    set(kind std)
    set(deps fmt::fmt)
    if(nlohmann_json::nlohmann_json IN_LIST libs)
      set(kind json)
      list(APPEND deps nlohmann_json::nlohmann_json)
    endif()
    if(hb_net IN_LIST libs AND nlohmann_json::nlohmann_json IN_LIST libs)
      set(kind net)
      list(APPEND deps hb_net)
    endif()
    set(headers ${${kind}})
    if(GTest::gtest IN_LIST libs)
      string(APPEND kind _test)
      list(APPEND headers ${gtest})
      list(APPEND deps GTest::gtest GTest::gmock)
    endif()
    if(PkgConfig::CAIRO IN_LIST libs)  # brings -pthread, which defines a macro
      string(APPEND kind _threads)
      list(APPEND deps PkgConfig::CAIRO)
    endif()
    if(NOT TARGET hb_pch_${kind})
      hb_pch(${kind} HEADERS ${headers} DEPS ${deps})
    endif()
    target_precompile_headers(${t} REUSE_FROM hb_pch_${kind})
  endforeach()
endfunction()
