/* kniferail calibrate --measured: prints what jobs 11 and 12 have measured of a rail's proximity switch. If asked for,
 * sets it at the running station by a maintenance request. */
#include <stdio.h>
#include <string.h>

#include "calibrate_cmd.h"
#include "cli.h"
#include "set_switch.h"

#define WORDS 40 /* of the block SWITCH_1 */

static struct kr_client client; /* large */

static bool fail(void)
{
    fprintf(stderr, "kniferail calibrate: %s\n", client.error);
    return false;
}

static const char *length(enum kr_reg reg, uint16_t rail, char text[24])
{
    kr_length_text(kr_get_um(&client.image, reg, rail, 0), client.image.format.length_unit, text, 24);
    return text;
}

/* As the station calculates it, that is, with the correction that references have found. */
static struct kr_switch in_force(uint16_t rail)
{
    return (struct kr_switch){kr_get_um(&client.image, KR_REG_SWITCH_OFFSET, rail, 0) +
                                  kr_get_um(&client.image, KR_REG_SWITCH_CORRECTION, rail, 0),
                              kr_get_um(&client.image, KR_REG_SCAN_BIAS, rail, 0)};
}

static void print_bias(uint16_t rail, uint16_t n)
{
    char is[24], found[24], uncertain[24], hysteresis[24];
    printf("scan bias      %s in force; ", length(KR_REG_SCAN_BIAS, rail, is));
    if (n == 0) {
        printf("not measured since the gateway's start: start job 11\n");
        return;
    }
    printf("%s +- %s measured, %u readings\n", length(KR_REG_BIAS_FOUND, rail, found),
           length(KR_REG_BIAS_UNCERTAINTY, rail, uncertain), n);
    printf("               hysteresis of the switch and play of the drive %s, delay %d us\n",
           length(KR_REG_HYSTERESIS_FOUND, rail, hysteresis), kr_get_i32(&client.image, KR_REG_DELAY_FOUND, rail, 0));
}

static void print_offset(uint16_t rail, uint16_t n)
{
    char is[24], corrected[24], found[24], uncertain[24], play[24];
    printf("switch offset  %s in force and %s found by references; ", length(KR_REG_SWITCH_OFFSET, rail, is),
           length(KR_REG_SWITCH_CORRECTION, rail, corrected));
    if (n == 0) {
        printf("not measured since the gateway's start: start job 12\n");
        return;
    }
    printf("%s +- %s measured, %u readings of holder %u\n", length(KR_REG_SWITCH_FOUND, rail, found),
           length(KR_REG_SWITCH_UNCERTAINTY, rail, uncertain), n,
           kr_get_u16(&client.image, KR_REG_SWITCH_HOLDER, rail, 0));
    printf("               play of the drive %s\n", length(KR_REG_PLAY_FOUND, rail, play));
}

static bool tell_verdict(uint16_t rail_number, const struct kr_switch *was)
{
    char sentence[KR_SENTENCE_MAX];
    struct kr_result result = edit_result(&client.image);
    if (result.code == KR_OK) {
        printf("\naccepted: the rail's places are remembered; a scan comes before the next move\n");
        return set_switch_changed(&client, rail_number, was) || fail();
    }
    kr_result_text(&result, client.image.format.length_unit, sentence, sizeof sentence);
    fprintf(stderr, "kniferail calibrate: refused: %s. %s\n", sentence, kr_code_remedy(result.code));
    return false;
}

/* Values that were not measured stay as they are in force. */
static bool apply(uint16_t rail_number, uint16_t n_bias, uint16_t n_offset)
{
    static struct edit_block block;
    uint16_t rail = (uint16_t)(rail_number - 1);
    struct kr_switch was, is = in_force(rail);
    if (n_bias == 0 && n_offset == 0) {
        fprintf(stderr, "kniferail calibrate: the switch of rail %u was not measured: there is nothing to apply\n",
                rail_number);
        return false;
    }
    is.bias_um = n_bias ? kr_get_um(&client.image, KR_REG_BIAS_FOUND, rail, 0) : is.bias_um;
    is.offset_um = n_offset ? kr_get_um(&client.image, KR_REG_SWITCH_FOUND, rail, 0) : is.offset_um;
    memset(&block, 0, sizeof block);
    block.format = client.image.format;
    *edit_at(&block, KR_REG_EDIT_KIND, 0) = KR_EDIT_SWITCH;
    *edit_at(&block, KR_REG_EDIT_RAIL, 0) = rail_number;
    set_switch_fill(&block, &is);
    if (!set_switch_read(&client, rail_number, &was) || !edit_ask(&client, &block))
        return fail();
    return tell_verdict(rail_number, &was);
}

static bool show(uint16_t rail_number, bool applies)
{
    uint16_t rail = (uint16_t)(rail_number - 1);
    if (!kr_client_block(&client, KR_BLOCK_ABOUT))
        return fail();
    if (rail_number > kr_get_rails(&client.image)) {
        fprintf(stderr, "kniferail calibrate: there is no rail %u; the last rail is %u\n", rail_number,
                kr_get_rails(&client.image));
        return false;
    }
    if (!kr_client_row(&client, KR_REG_SWITCH_ORIGIN, rail, WORDS) ||
        !kr_client_row(&client, KR_REG_SWITCH_CORRECTION, rail, 1))
        return fail();
    uint16_t n_bias = kr_get_u16(&client.image, KR_REG_BIAS_READINGS, rail, 0);
    uint16_t n_offset = kr_get_u16(&client.image, KR_REG_SWITCH_READINGS, rail, 0);
    printf("rail %u\n", rail_number);
    print_bias(rail, n_bias);
    print_offset(rail, n_offset);
    return !applies || apply(rail_number, n_bias, n_offset);
}

bool calibrate_measured(const struct kr_client_address *address, uint16_t rail_number, bool applies)
{
    if (!kr_client_open(&client, address))
        return fail();
    bool good = show(rail_number, applies);
    kr_client_close(&client);
    return good;
}
