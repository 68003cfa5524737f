# Pictures of rails: the scene, and its painters.
kr_rig(scene_rig SOURCES rig/scene_rig.c LIBS kr_scene)
kr_test(test_scene SOURCES unit/test_scene.c LIBS scene_rig LABELS unit)
