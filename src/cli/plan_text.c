/* Prints a plan as text: the order, the situations before and after it drawn to scale, and the moves in their
 * sequence. */
#include <stdio.h>

#include "plan_cmd.h"
#include "terminal.h"

/* Ends the text in brackets. If anything moves, a bound of 0 means that there is none. */
static void print_bound(int64_t time_us, int64_t bound_us)
{
    if (bound_us > 0 || time_us == 0)
        printf("no plan is under %.3f s)\n", (double)bound_us / 1e6);
    else
        printf("no bound of all plans is claimed)\n");
}

void plan_tell_refusal(const struct plan_job *job, FILE *to)
{
    char text[KR_SENTENCE_MAX], advice[200];
    kr_result_text(&job->result, job->length_unit, text, sizeof text);
    kr_plan_advice(&job->request, &job->result, job->length_unit, advice, sizeof advice);
    fprintf(to, "refused: %s\n", text);
    if (advice[0] != '\0')
        fprintf(to, "what would help: %s\n", advice);
}

static void print_moves(const struct plan_job *job, const struct kr_scene *scene, uint16_t rail)
{
    const struct kr_plan_rail *p = &job->plan.rail[rail];
    printf("\n%s rail: %u moves, %.3f s\n", scene->rail[rail].name, p->n_moves, (double)p->time_us / 1e6);
    printf("(no sequence of them is under %.3f s, ", (double)p->sequence_bound_us / 1e6);
    print_bound(p->time_us, p->bound_us);
    kr_scene_text_moves(scene, rail, job->style, kr_terminal_lines());
}

void plan_print_text(const struct plan_job *job)
{
    static struct kr_scene scene;
    if (job->result.code != KR_OK) {
        plan_tell_refusal(job, stdout);
        return;
    }
    plan_scene(job, &scene);
    kr_scene_text_order(&scene, job->style, kr_terminal_lines());
    printf("%-14s%s, %u cuts; all moves take %.3f s\n", "station", scene.station, job->plan.cuts.n_cuts,
           (double)job->plan.time_us / 1e6);
    printf("%-14s(", "");
    print_bound(job->plan.time_us, job->plan.bound_us);
    printf("%-14s%.1f s after Start; %.1f s where a scan has to come before the moves\n", "verified",
           (double)plan_told(job, false).verified_us / 1e6, (double)plan_told(job, true).verified_us / 1e6);
    printf("\nbefore\n");
    kr_scene_text_before(&scene, job->style, kr_terminal_lines());
    printf("\nafter\n");
    kr_scene_text(&scene, job->style, kr_terminal_lines());
    for (uint16_t i = 0; i < scene.n_rails; i++)
        print_moves(job, &scene, i);
}
