kr_test(test_plan_cuts SOURCES unit/test_plan_cuts.c LIBS kr_plan LABELS unit plan)

set(plan_helpers reference/plan_cases.c reference/plan_checker.c)
kr_test(plan_property SOURCES reference/plan_property.c ${plan_helpers} LIBS kr_plan LABELS property plan
        ARGS 100000 1 12)
target_link_libraries(plan_property PRIVATE m)
