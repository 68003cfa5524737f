# Pictures of rails: the scene, and its painters.
kr_rig(scene_rig SOURCES rig/scene_rig.c LIBS kr_scene)
kr_test(test_scene SOURCES unit/test_scene.c LIBS scene_rig LABELS unit)

# The program on a terminal of its own.
add_test(NAME terminal COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/terminal.py
         $<TARGET_FILE:kniferail> $<TARGET_FILE:kniferaild>)
set_tests_properties(terminal PROPERTIES LABELS system TIMEOUT 240)

add_test(NAME pictures COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/pictures.py
         $<TARGET_FILE:kniferail> $<TARGET_FILE:kniferaild>)
set_tests_properties(pictures PROPERTIES LABELS system TIMEOUT 120)
