#include "kniferail/drivemap.h"

#include <string.h>

/* ---- tables -------------------------------------------------------------------------------------------- */

static const struct kr_object_info infos[] = {
#define X(NAME, setting, direction, registers, needed, index, meaning) \
    {setting, KR_OBJECT_##direction, registers, needed, index, meaning},
    KR_OBJECTS(X)
#undef X
};

const struct kr_object_info *kr_object_info(enum kr_object object)
{
    return (unsigned)object < KR_N_OBJECTS ? &infos[object] : NULL;
}

#define X(name, bit, word, text) [bit] = (word),
static const char *const output_signals[KR_N_OUTPUT_SIGNALS] = {KR_AXIS_OUTPUTS(X)};
static const char *const input_signals[KR_N_INPUT_SIGNALS] = {KR_AXIS_INPUTS(X)};
#undef X

const char *kr_output_signal(unsigned bit)
{
    return bit < KR_N_OUTPUT_SIGNALS ? output_signals[bit] : NULL;
}

const char *kr_input_signal(unsigned bit)
{
    return bit < KR_N_INPUT_SIGNALS ? input_signals[bit] : NULL;
}

/* ---- settings ------------------------------------------------------------------------------------------ */

void kr_drivemap_standard(struct kr_drivemap *map)
{
    static const int32_t first[] = {
        [KR_OBJECT_OUT] = 0, [KR_OBJECT_IN] = 100, [KR_OBJECT_SETUP] = 200, [KR_OBJECT_OF_OWNER] = 0};
    int32_t next[4];
    memcpy(next, first, sizeof next);
    *map = (struct kr_drivemap){.position = {1, 1}, .speed = {1, 1}, .accel = {1, 1}, .referenced_bit = KR_NO_BIT};
    for (int o = 0; o < KR_N_OBJECTS; o++) {
        map->address[o] = next[infos[o].direction];
        next[infos[o].direction] += infos[o].registers;
    }
    static const enum kr_object left_out[] = {KR_OBJECT_INPUTS_HIGH,  KR_OBJECT_HOMING_METHOD, KR_OBJECT_HOMING_SPEED,
                                              KR_OBJECT_HOMING_CREEP, KR_OBJECT_TORQUE_LIMIT,  KR_OBJECT_OWNER,
                                              KR_OBJECT_PROBE_2_RISE, KR_OBJECT_PROBE_2_FALL,  KR_OBJECT_RISE_2_COUNT,
                                              KR_OBJECT_FALL_2_COUNT};
    for (size_t i = 0; i < sizeof left_out / sizeof left_out[0]; i++)
        map->address[left_out[i]] = KR_NO_REGISTER;
    for (int i = 0; i < KR_N_OUTPUT_SIGNALS; i++)
        map->output_bit[i] = (int8_t)i;
    for (int i = 0; i < KR_N_INPUT_SIGNALS; i++)
        map->input_bit[i] = KR_DI_LEFT_OUT >> i & 1 ? KR_NO_BIT : (int8_t)i;
}

static struct kr_drivemap_mistake check_addresses(const struct kr_drivemap *map)
{
    for (int o = 0; o < KR_N_OBJECTS; o++) {
        int32_t address = map->address[o], most = 65536 - infos[o].registers;
        if (address == KR_NO_REGISTER && !infos[o].needed)
            continue;
        if (address < 0 || address > most)
            return (struct kr_drivemap_mistake){infos[o].setting, NULL, address, 0, most};
        for (int other = 0; other < o; other++) {
            int32_t a = map->address[other];
            if (a != KR_NO_REGISTER && address < a + infos[other].registers && a < address + infos[o].registers)
                return (struct kr_drivemap_mistake){infos[o].setting, infos[other].setting, address, 0, most};
        }
    }
    return (struct kr_drivemap_mistake){0};
}

static struct kr_drivemap_mistake check_ratios(const struct kr_drivemap *map)
{
    const struct {
        const char *name;
        const struct kr_drive_ratio *ratio;
    } row[] = {{"position", &map->position}, {"speed", &map->speed}, {"accel", &map->accel}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        int32_t least = row[i].ratio->units < row[i].ratio->um ? row[i].ratio->units : row[i].ratio->um;
        if (least < 1)
            return (struct kr_drivemap_mistake){row[i].name, NULL, least, 1, INT32_MAX};
    }
    return (struct kr_drivemap_mistake){0};
}

static struct kr_drivemap_mistake check_bits(const int8_t bit[], unsigned n, const char *(*name)(unsigned), int most)
{
    for (unsigned i = 0; i < n; i++) {
        if (bit[i] == KR_NO_BIT)
            continue;
        if (bit[i] < 0 || bit[i] > most || !name(i))
            return (struct kr_drivemap_mistake){name(i) ? name(i) : "reserved", NULL, bit[i], 0, most};
        for (unsigned k = 0; k < i; k++)
            if (bit[k] == bit[i])
                return (struct kr_drivemap_mistake){name(i), name(k), bit[i], 0, most};
    }
    return (struct kr_drivemap_mistake){0};
}

struct kr_drivemap_mistake kr_drivemap_check(const struct kr_drivemap *map)
{
    struct kr_drivemap_mistake m = check_addresses(map);
    if (!m.what)
        m = check_ratios(map);
    if (!m.what)
        m = check_bits(map->output_bit, KR_N_OUTPUT_SIGNALS, kr_output_signal, 15);
    int most = map->address[KR_OBJECT_INPUTS_HIGH] == KR_NO_REGISTER ? 15 : 31;
    if (!m.what)
        m = check_bits(map->input_bit, KR_N_INPUT_SIGNALS, kr_input_signal, most);
    if (!m.what && (map->referenced_bit < KR_NO_BIT || map->referenced_bit > 15))
        m = (struct kr_drivemap_mistake){"referenced_bit", NULL, map->referenced_bit, 0, 15};
    return m;
}

/* ---- the drive at the end of its wire ----------------------------------------------------------------- */

void kr_drive_standard(struct kr_drive *drive)
{
    *drive = (struct kr_drive){.link = {.port = 502,
                                        .baud = 115200,
                                        .parity = 'E',
                                        .stop_bits = 1,
                                        .unit_id = 1,
                                        .retries = 2,
                                        .answer_ms = 50,
                                        .stop_ms = 450,
                                        .lost_ms = 1000},
                               .function_23 = true,
                               .answer_lag = 1,
                               .watchdog = KR_WATCHDOG_READ,
                               .watchdog_most = 500};
    kr_drivemap_standard(&drive->map);
}

bool kr_drive_same_link(const struct kr_drive_link *a, const struct kr_drive_link *b)
{
    if (a->serial != b->serial)
        return false;
    if (a->serial)
        return strcmp(a->device, b->device) == 0;
    return strcmp(a->address, b->address) == 0 && a->port == b->port;
}

/* ---- expected parameters ------------------------------------------------------------------------------- */

uint32_t kr_expected_seen(const struct kr_expected *e, bool low_word_first, const uint16_t word[])
{
    if (e->words == 1)
        return word[0] & e->mask;
    uint32_t high = word[low_word_first ? 1 : 0], low = word[low_word_first ? 0 : 1];
    return (high << 16 | low) & e->mask;
}

int32_t kr_expected_shown(const struct kr_expected *e, uint32_t number)
{
    return e->words == 1 && e->is_signed ? (int16_t)(uint16_t)number : (int32_t)number;
}

/* ---- registers ----------------------------------------------------------------------------------------- */

static int object_at(const struct kr_drivemap *map, enum kr_object_direction direction, int32_t address, int *word)
{
    for (int o = 0; o < KR_N_OBJECTS; o++) {
        *word = address - map->address[o];
        if (infos[o].direction == direction && map->address[o] != KR_NO_REGISTER && *word >= 0 &&
            *word < infos[o].registers)
            return o;
    }
    return KR_N_OBJECTS;
}

static int32_t next_register(const struct kr_drivemap *map, enum kr_object_direction direction, int32_t from)
{
    int32_t next = INT32_MAX;
    for (int o = 0; o < KR_N_OBJECTS; o++)
        if (infos[o].direction == direction && map->address[o] >= from && map->address[o] < next)
            next = map->address[o];
    return next;
}

static void put_last(struct kr_drive_run run[], uint16_t n, uint16_t which)
{
    struct kr_drive_run last = run[which];
    memmove(&run[which], &run[which + 1], (size_t)(n - which - 1u) * sizeof run[0]);
    run[n - 1u] = last;
}

uint16_t kr_drivemap_runs(const struct kr_drivemap *map, enum kr_object_direction direction,
                          struct kr_drive_run run[KR_DRIVE_RUNS_MAX])
{
    uint16_t n = 0, with_controlword = 0;
    int32_t at = next_register(map, direction, 0);
    while (at != INT32_MAX) {
        int32_t from = at;
        int word;
        for (int o = object_at(map, direction, at, &word); o != KR_N_OBJECTS;
             o = object_at(map, direction, at, &word)) {
            if (o == KR_OBJECT_CONTROLWORD)
                with_controlword = n;
            at++;
        }
        run[n++] = (struct kr_drive_run){(uint16_t)from, (uint16_t)(at - from)};
        at = next_register(map, direction, at);
    }
    if (direction == KR_OBJECT_OUT && n > 1)
        put_last(run, n, with_controlword);
    return n;
}

static unsigned shift_of(const struct kr_drivemap *map, int object, int word)
{
    bool high = infos[object].registers == 2 && (word == 1) == map->low_word_first;
    return high ? 16 : 0;
}

bool kr_drivemap_get(const struct kr_drivemap *map, const struct kr_drive_objects *objects,
                     enum kr_object_direction direction, uint16_t address, uint16_t *value)
{
    int word, o = object_at(map, direction, address, &word);
    if (o == KR_N_OBJECTS)
        return false;
    *value = (uint16_t)(objects->raw[o] >> shift_of(map, o, word));
    return true;
}

bool kr_drivemap_set(const struct kr_drivemap *map, struct kr_drive_objects *objects,
                     enum kr_object_direction direction, uint16_t address, uint16_t value)
{
    int word, o = object_at(map, direction, address, &word);
    if (o == KR_N_OBJECTS)
        return false;
    unsigned shift = shift_of(map, o, word);
    objects->raw[o] = (objects->raw[o] & ~(0xFFFFu << shift)) | (uint32_t)value << shift;
    return true;
}

/* ---- images -------------------------------------------------------------------------------------------- */

static int32_t scaled(int64_t value, int32_t times, int32_t by)
{
    int64_t product = value * times, half = by / 2;
    int64_t result = product >= 0 ? (product + half) / by : (product - half) / by;
    if (result > INT32_MAX)
        return INT32_MAX;
    return result < INT32_MIN ? INT32_MIN : (int32_t)result;
}

static uint32_t to_units(int32_t um, struct kr_drive_ratio ratio)
{
    return (uint32_t)scaled(um, ratio.units, ratio.um);
}

static int32_t to_um(uint32_t raw, struct kr_drive_ratio ratio)
{
    return scaled((int32_t)raw, ratio.um, ratio.units);
}

static int32_t directed(const struct kr_drivemap *map, int32_t um)
{
    if (!map->reversed)
        return um;
    return um == INT32_MIN ? INT32_MAX : -um;
}

static uint32_t place_bits(uint16_t signals, uint16_t inverted, const int8_t bit[], unsigned n)
{
    uint32_t word = 0;
    signals ^= inverted;
    for (unsigned i = 0; i < n; i++)
        if (bit[i] != KR_NO_BIT && signals >> i & 1u)
            word |= 1u << bit[i];
    return word;
}

static uint16_t collect_bits(uint32_t word, uint16_t inverted, const int8_t bit[], unsigned n)
{
    unsigned signals = 0;
    for (unsigned i = 0; i < n; i++)
        if (bit[i] != KR_NO_BIT)
            signals |= ((word >> bit[i] ^ (uint32_t)inverted >> i) & 1u) << i;
    return (uint16_t)signals;
}

void kr_drivemap_write_out(const struct kr_drivemap *map, const struct kr_axis_out *out,
                           struct kr_drive_objects *objects)
{
    uint32_t *raw = objects->raw;
    raw[KR_OBJECT_CONTROLWORD] = out->controlword;
    raw[KR_OBJECT_MODE] = (uint8_t)out->mode;
    raw[KR_OBJECT_TARGET] = to_units(directed(map, out->target_um), map->position);
    raw[KR_OBJECT_SPEED] = to_units(out->speed_um_per_s, map->speed);
    raw[KR_OBJECT_ACCEL] = to_units(out->accel_um_per_s2, map->accel);
    raw[KR_OBJECT_DECEL] = to_units(out->decel_um_per_s2, map->accel);
    raw[KR_OBJECT_HOMING_SPEED] = to_units(out->homing_speed_um_per_s, map->speed);
    raw[KR_OBJECT_HOMING_CREEP] = to_units(out->homing_creep_um_per_s, map->speed);
    raw[KR_OBJECT_TORQUE_LIMIT] = out->torque_permille;
    raw[KR_OBJECT_PROBE_FUNCTION] = out->probe_function;
    raw[KR_OBJECT_OUTPUTS] = place_bits(out->outputs, map->inverted_outputs, map->output_bit, KR_N_OUTPUT_SIGNALS);
}

void kr_drivemap_read_out(const struct kr_drivemap *map, const struct kr_drive_objects *objects,
                          struct kr_axis_out *out)
{
    const uint32_t *raw = objects->raw;
    out->controlword = (uint16_t)raw[KR_OBJECT_CONTROLWORD];
    out->mode = (int8_t)(uint8_t)raw[KR_OBJECT_MODE];
    out->target_um = directed(map, to_um(raw[KR_OBJECT_TARGET], map->position));
    out->speed_um_per_s = to_um(raw[KR_OBJECT_SPEED], map->speed);
    out->accel_um_per_s2 = to_um(raw[KR_OBJECT_ACCEL], map->accel);
    out->decel_um_per_s2 = to_um(raw[KR_OBJECT_DECEL], map->accel);
    out->homing_speed_um_per_s = to_um(raw[KR_OBJECT_HOMING_SPEED], map->speed);
    out->homing_creep_um_per_s = to_um(raw[KR_OBJECT_HOMING_CREEP], map->speed);
    out->torque_permille = (uint16_t)raw[KR_OBJECT_TORQUE_LIMIT];
    out->probe_function = (uint16_t)raw[KR_OBJECT_PROBE_FUNCTION];
    out->outputs = collect_bits(raw[KR_OBJECT_OUTPUTS], map->inverted_outputs, map->output_bit, KR_N_OUTPUT_SIGNALS);
}

void kr_drivemap_write_in(const struct kr_drivemap *map, const struct kr_axis_in *in, struct kr_drive_objects *objects)
{
    uint32_t *raw = objects->raw;
    uint32_t inputs = place_bits(in->inputs, map->inverted_inputs, map->input_bit, KR_N_INPUT_SIGNALS);
    raw[KR_OBJECT_STATUSWORD] = in->statusword;
    if (map->referenced_bit != KR_NO_BIT)
        raw[KR_OBJECT_STATUSWORD] = (in->statusword & ~(1u << map->referenced_bit)) | (uint32_t)in->referenced
                                                                                          << map->referenced_bit;
    raw[KR_OBJECT_MODE_DISPLAY] = (uint8_t)in->mode;
    raw[KR_OBJECT_ERROR_CODE] = in->error_code;
    raw[KR_OBJECT_HOMING_METHOD] = (uint8_t)in->homing_method;
    raw[KR_OBJECT_POSITION] = to_units(directed(map, in->position_um), map->position);
    raw[KR_OBJECT_FOLLOWING_ERROR] = to_units(directed(map, in->following_error_um), map->position);
    raw[KR_OBJECT_PROBE_STATUS] = in->probe_status;
    raw[KR_OBJECT_PROBE_RISE] = to_units(directed(map, in->rise_um), map->position);
    raw[KR_OBJECT_PROBE_FALL] = to_units(directed(map, in->fall_um), map->position);
    raw[KR_OBJECT_RISE_COUNT] = in->rise_count;
    raw[KR_OBJECT_FALL_COUNT] = in->fall_count;
    raw[KR_OBJECT_PROBE_2_RISE] = to_units(directed(map, in->second.rise_um), map->position);
    raw[KR_OBJECT_PROBE_2_FALL] = to_units(directed(map, in->second.fall_um), map->position);
    raw[KR_OBJECT_RISE_2_COUNT] = in->second.rise_count;
    raw[KR_OBJECT_FALL_2_COUNT] = in->second.fall_count;
    raw[KR_OBJECT_INPUTS] = inputs & 0xFFFFu;
    raw[KR_OBJECT_INPUTS_HIGH] = inputs >> 16;
}

void kr_drivemap_read_in(const struct kr_drivemap *map, const struct kr_drive_objects *objects, struct kr_axis_in *in)
{
    const uint32_t *raw = objects->raw;
    uint32_t inputs = (raw[KR_OBJECT_INPUTS] & 0xFFFFu) | raw[KR_OBJECT_INPUTS_HIGH] << 16;
    in->statusword = (uint16_t)raw[KR_OBJECT_STATUSWORD];
    in->referenced = map->referenced_bit == KR_NO_BIT || (in->statusword >> map->referenced_bit & 1) != 0;
    in->mode = (int8_t)(uint8_t)raw[KR_OBJECT_MODE_DISPLAY];
    in->error_code = (uint16_t)raw[KR_OBJECT_ERROR_CODE];
    in->homing_method = (int8_t)(uint8_t)raw[KR_OBJECT_HOMING_METHOD];
    in->position_um = directed(map, to_um(raw[KR_OBJECT_POSITION], map->position));
    in->following_error_um = directed(map, to_um(raw[KR_OBJECT_FOLLOWING_ERROR], map->position));
    in->probe_status = (uint16_t)raw[KR_OBJECT_PROBE_STATUS];
    in->rise_um = directed(map, to_um(raw[KR_OBJECT_PROBE_RISE], map->position));
    in->fall_um = directed(map, to_um(raw[KR_OBJECT_PROBE_FALL], map->position));
    in->rise_count = (uint16_t)raw[KR_OBJECT_RISE_COUNT];
    in->fall_count = (uint16_t)raw[KR_OBJECT_FALL_COUNT];
    in->second.rise_um = directed(map, to_um(raw[KR_OBJECT_PROBE_2_RISE], map->position));
    in->second.fall_um = directed(map, to_um(raw[KR_OBJECT_PROBE_2_FALL], map->position));
    in->second.rise_count = (uint16_t)raw[KR_OBJECT_RISE_2_COUNT];
    in->second.fall_count = (uint16_t)raw[KR_OBJECT_FALL_2_COUNT];
    in->inputs = collect_bits(inputs, map->inverted_inputs, map->input_bit, KR_N_INPUT_SIGNALS);
}
