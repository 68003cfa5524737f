# The tests of the face look inside: the answering part is tested without sockets.
function(kr_face_test name)
    kr_test(${name} SOURCES ${CMAKE_CURRENT_SOURCE_DIR}/unit/${name}.c ${CMAKE_CURRENT_SOURCE_DIR}/unit/face_rig.c
            LIBS kr_face PkgConfig::MODBUS LABELS unit)
    target_include_directories(${name} PRIVATE ${CMAKE_SOURCE_DIR}/src/face ${CMAKE_CURRENT_SOURCE_DIR}/unit)
endfunction()

kr_face_test(test_face_server)
kr_face_test(test_face_vectors)
kr_face_test(test_face_functions)
kr_face_test(test_face_control)
