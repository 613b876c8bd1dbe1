# Run by cpack on the installed tree before it becomes a .deb: what Debian's policy wants otherwise than
# `cmake --install` does. The licence by reference, the changelog in dpkg's form, compressed pages, zsh's folder.
set(usr ${CPACK_TEMPORARY_INSTALL_DIRECTORY}/usr)
set(doc ${usr}/share/doc/handback)
file(REMOVE ${doc}/LICENSE ${doc}/CHANGELOG.md)

string(TIMESTAMP year "%Y" UTC)
file(WRITE ${doc}/copyright
"Format: https://www.debian.org/doc/packaging-manuals/copyright-format/1.0/
Upstream-Name: handback

Files: *
Copyright: ${year} the handback authors
License: Apache-2.0
 On Debian systems the text of the Apache License, version 2.0, is in
 /usr/share/common-licenses/Apache-2.0.
")

execute_process(COMMAND ${CPACK_HB_SOURCE}/tools/debian-changelog "${CPACK_PACKAGE_CONTACT}"
                INPUT_FILE ${CPACK_HB_SOURCE}/CHANGELOG.md OUTPUT_FILE ${doc}/changelog COMMAND_ERROR_IS_FATAL ANY)
file(GLOB pages ${usr}/share/man/man1/*.1)
execute_process(COMMAND gzip -9nf ${doc}/changelog ${pages} COMMAND_ERROR_IS_FATAL ANY)

file(MAKE_DIRECTORY ${usr}/share/zsh)
file(RENAME ${usr}/share/zsh/site-functions ${usr}/share/zsh/vendor-completions)
execute_process(COMMAND chmod -R u=rwX,go=rX ${usr} COMMAND_ERROR_IS_FATAL ANY)
