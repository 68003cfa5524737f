# The planner. The random ones print their seeds; longer runs by their arguments: CASES SEED MOST_HOLDERS.
kr_rig(plan_rig SOURCES reference/order_rules.c reference/plan_cases.c reference/plan_checker.c reference/plan_rails.c
    LIBS kr_plan m)
kr_test(test_plan_cuts SOURCES unit/test_plan_cuts.c LIBS kr_plan LABELS unit plan)
kr_test(test_plan SOURCES unit/test_plan.c LIBS plan_rig LABELS unit plan)
kr_test(test_plan_sequence SOURCES unit/test_plan_sequence.c LIBS kr_plan LABELS unit reference plan)
target_include_directories(test_plan PRIVATE reference)
target_include_directories(test_plan_sequence PRIVATE ${CMAKE_SOURCE_DIR}/src/plan)

# Orders at their limits: what is refused, and why, by the rules stated anew.
kr_test(plan_orders SOURCES reference/plan_orders.c LIBS plan_rig LABELS reference plan ARGS 1000000 1)

# Random cases, every plan replayed by a checker of its own.
kr_count(cases BRIEF 20000 FULL 100000 SANITIZED 10000)
kr_test(plan_property SOURCES reference/plan_property.c LIBS plan_rig
        LABELS property plan ARGS ${cases} 1 12 TIMEOUT 600)

# The same with holders pushed together, and longer rails.
kr_count(cases BRIEF 5000 FULL 30000 SANITIZED 2500)
add_test(NAME plan_property_pushed COMMAND plan_property ${cases} 1 20 pushed WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(plan_property_pushed PROPERTIES LABELS "property;plan" TIMEOUT 600)

# What a refusal advises is done, and planned again.
kr_test(plan_advice SOURCES reference/plan_advice.c LIBS plan_rig LABELS property plan
        ARGS 20000 1 6 TIMEOUT 300)

# As good as the best plans known.
kr_test(plan_quality SOURCES reference/plan_quality.c LIBS plan_rig LABELS property plan TIMEOUT 300)

# The same verdict and the same least time as an exhaustive search.
kr_test(plan_optimal SOURCES reference/plan_optimal.c reference/plan_exhaustive.c LIBS plan_rig
        LABELS reference plan ARGS 20000 1 3)
kr_count(cases BRIEF 100 FULL 1000 SANITIZED 150)
add_test(NAME plan_optimal_5 COMMAND plan_optimal ${cases} 1 5 WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(plan_optimal_5 PROPERTIES LABELS "reference;plan" TIMEOUT 900 COST 30)

# The same on rails whose holders were pushed together: who of them stays and where the others end is a choice.
add_test(NAME plan_optimal_pushed COMMAND plan_optimal 20000 1 3 pushed WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
kr_count(cases BRIEF 400 FULL 2000 SANITIZED 150)
add_test(NAME plan_optimal_5_pushed COMMAND plan_optimal ${cases} 1 5 pushed WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(plan_optimal_pushed plan_optimal_5_pushed PROPERTIES
    LABELS "reference;plan" TIMEOUT 900 COST 30)

# The same as a mixed-integer model, by CBC or GLPK; 500 and more take some minutes: plan_mip.py CASES 600 1000 4.
kr_count(cases BRIEF 20 FULL 60 SANITIZED 10)
kr_program(plan_mip_cases SOURCES reference/plan_mip_cases.c LIBS plan_rig)
add_test(NAME plan_mip COMMAND /usr/bin/python3 -B ${CMAKE_SOURCE_DIR}/tests/reference/plan_mip.py
         $<TARGET_FILE:plan_mip_cases> ${cases} 1 4 WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(plan_mip PROPERTIES LABELS "reference;plan" TIMEOUT 600 COST 60)

# Not a test: figures of quality and speed.
kr_program(plan_bench SOURCES bench/plan_bench.c LIBS plan_rig)
target_include_directories(plan_bench PRIVATE reference)
