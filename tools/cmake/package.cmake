# What `cmake --install` and `cpack` put where. Each folder installs its own programs and data; here is what is
# written at the build and what only a package needs.
install(DIRECTORY ${PROJECT_BINARY_DIR}/share/man ${PROJECT_BINARY_DIR}/share/bash-completion
                  ${PROJECT_BINARY_DIR}/share/zsh ${PROJECT_BINARY_DIR}/share/fish DESTINATION share)
install(FILES LICENSE CHANGELOG.md DESTINATION share/doc/handback)

set(HB_MAINTAINER "handback maintainers <maintainers@handback.example>" CACHE STRING "who answers for a package")
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME handback)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGE_CONTACT ${HB_MAINTAINER})
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "release checks of a repaired phone")
set(CPACK_PACKAGE_DESCRIPTION
"Run by a phone repair bench before a phone goes back to its owner: talks to the
phone over the open debug link without installing anything, measures touch,
hinge, batteries, charging, cameras, sound, keys, sensors and radios, judges
each measure with its uncertainty, writes a signed sheet for the customer, and
keeps an append-only ledger from which the shop learns which repairs come back.
.
A stand-in phone is included: try 'handback demo'.")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE
    WORLD_READ WORLD_EXECUTE)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION utils)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_DEPENDS "fonts-dejavu-core, fonts-liberation")  # of the sheet; no library needs them
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_PRE_BUILD_SCRIPTS ${PROJECT_SOURCE_DIR}/tools/cmake/debian_files.cmake)
set(CPACK_HB_SOURCE ${PROJECT_SOURCE_DIR})  # for that script; only names that begin so reach it
set(CPACK_SOURCE_GENERATOR TGZ)
set(CPACK_SOURCE_IGNORE_FILES "/\\.git/;/build[^/]*/;/node_modules/;/handback-demo/")
include(CPack)
