# Runs while installing. Puts the unit, the manual pages and the station file where the prefix says, with the paths that
# they name as they are under it. /usr has its settings in /etc; every other prefix in a folder of its own.
set(prefix ${CMAKE_INSTALL_PREFIX})
if(prefix STREQUAL "/usr")
    set(settings /etc/kniferail)
else()
    set(settings ${prefix}/etc/kniferail)
endif()
set(units ${prefix}/lib/systemd/system)
set(work ${made}/places)
file(REMOVE_RECURSE ${work})
file(MAKE_DIRECTORY ${work})
find_program(gzip gzip)

function(fill from to)
    file(READ ${from} text)
    string(REPLACE "/usr/local/bin" "${prefix}/bin" text "${text}")
    string(REPLACE "/etc/systemd/system/kniferaild.service" "${units}/kniferaild.service" text "${text}")
    string(REPLACE "/etc/kniferail" "${settings}" text "${text}")
    string(REPLACE "config/kniferaild.service" "${units}/kniferaild.service" text "${text}")
    string(REPLACE "config/" "${prefix}/${docdir}/examples/" text "${text}")
    string(REPLACE "sim/faults.cfg" "${prefix}/${docdir}/examples/faults.cfg" text "${text}")
    file(WRITE ${work}/${to} "${text}")
endfunction()

fill(${source}/config/kniferaild.service kniferaild.service)
file(INSTALL DESTINATION ${units} TYPE FILE FILES ${work}/kniferaild.service)

# Whoever has a station file there keeps it; a package asks for itself (conffiles).
if(NOT EXISTS "$ENV{DESTDIR}${settings}/station.cfg")
    file(INSTALL DESTINATION ${settings} TYPE FILE FILES ${made}/station.cfg)
endif()

foreach(page ${source}/src/cli/kniferail.1 ${source}/src/panel/kniferail-panel.1 ${source}/sim/kniferail-sim.1 ${source}/src/daemon/kniferaild.8
             ${made}/kniferail-station.5 ${made}/kniferail-faults.5)
    get_filename_component(name ${page} NAME)
    string(REGEX REPLACE ".*\\." "" section ${name})
    fill(${page} ${name})
    if(gzip)
        execute_process(COMMAND ${gzip} -9nf ${work}/${name} COMMAND_ERROR_IS_FATAL ANY)
        set(name ${name}.gz)
    endif()
    file(INSTALL DESTINATION ${prefix}/${mandir}/man${section} TYPE FILE FILES ${work}/${name})
endforeach()

# As Debian's policy asks for: the licence and what changed, by these names.
file(INSTALL DESTINATION ${prefix}/${docdir} TYPE FILE FILES ${source}/LICENSE RENAME copyright)
configure_file(${source}/src/package/changelog ${work}/changelog COPYONLY)
if(gzip)
    execute_process(COMMAND ${gzip} -9nf ${work}/changelog COMMAND_ERROR_IS_FATAL ANY)
    file(INSTALL DESTINATION ${prefix}/${docdir} TYPE FILE FILES ${work}/changelog.gz)
endif()
