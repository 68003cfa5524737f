# What `cmake --install` and the Debian package hold, and what they are called there.
include(GNUInstallDirs)
set(package ${CMAKE_SOURCE_DIR}/src/package)
set(made ${CMAKE_BINARY_DIR}/package)

# Each program says which build it is.
foreach(program kniferaild kniferail kniferail-panel kniferail-sim)
    target_sources(${program} PRIVATE ${package}/build_id.c)
    target_include_directories(${program} PRIVATE ${package})
    target_link_options(${program} PRIVATE -Wl,--build-id=sha1)
endforeach()
set_source_files_properties(${package}/build_id.c TARGET_DIRECTORY kniferaild kniferail kniferail-panel kniferail-sim
                            PROPERTIES COMPILE_DEFINITIONS _GNU_SOURCE) # dl_iterate_phdr
install(TARGETS kniferaild kniferail kniferail-panel kniferail-sim)

# ---- what is made while building: pages of section 5 from the programs' tables, the register map, the types for a PLC
add_executable(manual ${package}/manual.c src/cli/text_fill.c)
target_include_directories(manual PRIVATE sim src/cli)
target_link_libraries(manual PRIVATE kr_config kr_base)
set_target_properties(manual PROPERTIES RUNTIME_OUTPUT_DIRECTORY ${made})
file(MAKE_DIRECTORY ${made}/plc)
function(kr_made file)
    add_custom_command(OUTPUT ${made}/${file} COMMAND ${ARGN} > ${made}/${file} DEPENDS ${ARGV1} ${page})
    set_property(GLOBAL APPEND PROPERTY KR_MADE ${made}/${file})
endfunction()
# A page's prose stands in a file, on which the page depends; kr_made() sees it as ${page}.
foreach(name kniferail-station.5 kniferail-faults.5)
    set(page ${package}/${name}.in)
    kr_made(${name} manual ${page})
endforeach()
unset(page)
kr_made(map.md kniferail map --format md)
kr_made(map.csv kniferail map --format csv)
kr_made(map.json kniferail map --format json)
kr_made(plc/kniferail_types.st kniferail map --format st)
get_property(all_made GLOBAL PROPERTY KR_MADE)
add_custom_target(made ALL DEPENDS ${all_made})

# ---- what is installed as it stands
file(GLOB examples LIST_DIRECTORIES false CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/config/*.cfg)
install(FILES ${examples} ${CMAKE_SOURCE_DIR}/sim/faults.cfg DESTINATION ${CMAKE_INSTALL_DOCDIR}/examples)
install(DIRECTORY ${CMAKE_SOURCE_DIR}/config/plc DESTINATION ${CMAKE_INSTALL_DOCDIR}/examples)
install(FILES ${made}/plc/kniferail_types.st DESTINATION ${CMAKE_INSTALL_DOCDIR}/examples/plc)
# README and the pages lead to each other by the places where they are installed.
set_property(DIRECTORY ${CMAKE_SOURCE_DIR} APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/README.md)
file(READ ${CMAKE_SOURCE_DIR}/README.md readme)
string(REPLACE "config/pages/" "examples/pages/" readme "${readme}")
string(REPLACE "config/plc" "examples/plc" readme "${readme}")
string(REPLACE "src/drawing/example.svg" "example.svg" readme "${readme}")
string(REPLACE "[DEVELOPERS.md](DEVELOPERS.md)" "DEVELOPERS.md in the source" readme "${readme}")
string(REPLACE "; see [LICENSE](LICENSE)" "" readme "${readme}")
file(WRITE ${made}/README.md "${readme}")
install(DIRECTORY ${CMAKE_SOURCE_DIR}/config/pages DESTINATION ${CMAKE_INSTALL_DOCDIR}/examples)
install(FILES ${CMAKE_SOURCE_DIR}/src/drawing/example.svg ${made}/README.md ${made}/map.md ${made}/map.csv
    ${made}/map.json DESTINATION ${CMAKE_INSTALL_DOCDIR})
foreach(program kniferail kniferaild kniferail-panel kniferail-sim)
    install(FILES ${package}/completion.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions
        RENAME ${program})
endforeach()

# ---- what names the places of other files: the unit and the manual pages, by the prefix of this very installation
file(READ ${CMAKE_SOURCE_DIR}/config/small-shear.cfg station)
string(REPLACE "# book =" "book =" station "${station}")
file(WRITE ${made}/station.cfg "${station}")
install(CODE "set(source ${CMAKE_SOURCE_DIR})
set(made ${made})
set(docdir ${CMAKE_INSTALL_DOCDIR})
set(mandir ${CMAKE_INSTALL_MANDIR})")
install(SCRIPT ${package}/places.cmake)

add_custom_target(uninstall COMMAND ${CMAKE_COMMAND} -D manifest=${CMAKE_BINARY_DIR}/install_manifest.txt
    -P ${package}/uninstall.cmake)

# ---- the Debian package: cmake --build build --target package
set(CPACK_GENERATOR DEB)
file(STRINGS ${package}/changelog newest LIMIT_COUNT 1)
if(NOT newest MATCHES "^kniferail \\(${PROJECT_VERSION}\\) ")
    message(FATAL_ERROR "src/package/changelog begins with '${newest}'; the project's version is ${PROJECT_VERSION}")
endif()
set(CPACK_PACKAGE_NAME kniferail)
set(CPACK_PACKAGE_VENDOR "kniferail")
set(CPACK_PACKAGE_CONTACT "The maintainers of kniferail <maintainers@kniferail.example>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "Modbus/TCP gateway that positions slitter knives")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION "Takes orders of slit widths from line PLCs over Modbus/TCP, plans and makes
the moves that bring every knife of a slitter to its place, measures where
they stand, and publishes it. With it come the command line, a simulator of
the machine, manual pages, the register map and examples.
.
Moving knives hurt people. It is no safety function.")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION electronics)
set(CPACK_DEBIAN_PACKAGE_DEPENDS adduser)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
# The programs are stripped, and their debug symbols are a package of their own.
set(CPACK_DEBIAN_DEBUGINFO_PACKAGE ON)
file(WRITE ${made}/conffiles "/etc/kniferail/station.cfg\n")
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA ${made}/conffiles ${package}/postinst ${package}/prerm ${package}/postrm)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
include(CPack)
