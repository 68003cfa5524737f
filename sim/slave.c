#include "sim/slave.h"

#include <string.h>

enum { ILLEGAL_FUNCTION = 1, ILLEGAL_ADDRESS = 2, ILLEGAL_VALUE = 3 };
enum { READ_HOLDING = 3, WRITE_ONE = 6, WRITE_MANY = 16, WRITE_AND_READ = 23 };

static uint16_t word_at(const uint8_t *bytes)
{
    return (uint16_t)(bytes[0] << 8 | bytes[1]);
}

static void put_word(uint8_t *bytes, uint16_t word)
{
    bytes[0] = (uint8_t)(word >> 8);
    bytes[1] = (uint8_t)word;
}

void sim_slave_init(struct sim_slave *slave, struct sim_machine *machine)
{
    *slave = (struct sim_slave){.machine = machine};
}

/* ---- registers ----------------------------------------------------------------------------------------- */

static void objects_now(const struct sim_slave *slave, uint16_t rail, struct kr_drive_objects *objects)
{
    struct kr_axis_in in;
    *objects = slave->drive[rail].outputs;
    sim_machine_read(slave->machine, rail, &in);
    kr_drivemap_write_in(&slave->drive[rail].map, &in, objects);
    objects->raw[KR_OBJECT_WATCHDOG] = (uint32_t)slave->machine->config.rail[rail].watchdog_ms;
}

/* In a drive with factory settings, every parameter differs from that of a commissioned drive. */
static uint32_t parameter(const struct sim_slave *slave, uint16_t rail, const struct kr_expected *e)
{
    bool factory = sim_machine_broken(slave->machine, rail, SIM_FACTORY_SETTINGS);
    return factory ? (e->value == 0 ? e->mask : 0) : e->value;
}

/* One register may contain several parameters as bits. */
static bool read_parameter(const struct sim_slave *slave, uint16_t rail, uint32_t address, uint16_t *value)
{
    bool found = false;
    unsigned word = 0;
    for (uint16_t i = 0; i < slave->drive[rail].n_expected; i++) {
        const struct kr_expected *e = &slave->drive[rail].expected[i];
        if (address < e->address || address >= (uint32_t)e->address + e->words)
            continue;
        bool second = address > e->address;
        bool high = e->words == 2 && second == slave->drive[rail].map.low_word_first;
        word |= parameter(slave, rail, e) >> (high ? 16 : 0) & 0xFFFFu;
        found = true;
    }
    *value = (uint16_t)word;
    return found;
}

static bool read_one(const struct sim_slave *slave, uint16_t rail, const struct kr_drive_objects *objects,
                     uint32_t address, uint16_t *value)
{
    const struct kr_drivemap *map = &slave->drive[rail].map;
    if (address > UINT16_MAX)
        return false;
    return kr_drivemap_get(map, objects, KR_OBJECT_IN, (uint16_t)address, value) ||
           kr_drivemap_get(map, objects, KR_OBJECT_OUT, (uint16_t)address, value) ||
           kr_drivemap_get(map, objects, KR_OBJECT_SETUP, (uint16_t)address, value) ||
           kr_drivemap_get(map, objects, KR_OBJECT_OF_OWNER, (uint16_t)address, value) ||
           read_parameter(slave, rail, address, value);
}

static bool write_word(const struct kr_drivemap *map, struct kr_drive_objects *objects, uint16_t address,
                       uint16_t value)
{
    return kr_drivemap_set(map, objects, KR_OBJECT_OUT, address, value) ||
           kr_drivemap_set(map, objects, KR_OBJECT_OF_OWNER, address, value);
}

static bool can_write(const struct kr_drivemap *map, uint32_t address, uint16_t n)
{
    struct kr_drive_objects objects;
    memset(&objects, 0, sizeof objects);
    for (uint32_t i = 0; i < n; i++)
        if (address + i > UINT16_MAX || !write_word(map, &objects, (uint16_t)(address + i), 0))
            return false;
    return true;
}

static bool can_read(const struct sim_slave *slave, uint16_t rail, uint32_t address, uint16_t n)
{
    struct kr_drive_objects objects;
    uint16_t value;
    memset(&objects, 0, sizeof objects);
    for (uint32_t i = 0; i < n; i++)
        if (!read_one(slave, rail, &objects, address + i, &value))
            return false;
    return true;
}

/* Every request of a master also shows the drive that the master is alive. */
static void hand_over(struct sim_slave *slave, uint16_t rail)
{
    struct kr_axis_out out = {.serial = ++slave->drive[rail].serial};
    kr_drivemap_read_out(&slave->drive[rail].map, &slave->drive[rail].outputs, &out);
    sim_machine_write(slave->machine, rail, &out);
}

static void write_all(struct sim_slave *slave, uint16_t rail, uint16_t address, uint16_t n, const uint8_t *values)
{
    for (uint16_t i = 0; i < n; i++)
        (void)write_word(&slave->drive[rail].map, &slave->drive[rail].outputs, (uint16_t)(address + i),
                         word_at(values + (size_t)2 * i)); /* it can't fail, because can_write() was true */
}

static size_t read_all(const struct sim_slave *slave, uint16_t rail, uint16_t address, uint16_t n, uint8_t *answer)
{
    struct kr_drive_objects objects;
    objects_now(slave, rail, &objects);
    answer[1] = (uint8_t)(2 * n);
    for (uint16_t i = 0; i < n; i++) {
        uint16_t value = 0;
        /* It can't fail, because can_read() was true. */
        (void)read_one(slave, rail, &objects, (uint32_t)address + i, &value);
        put_word(answer + 2 + (size_t)2 * i, value);
    }
    return 2u + 2u * n;
}

/* ---- functions; the order of checks is that of the figures in V1.1b3, 6.3 to 6.17 ---------------------- */

struct call {
    struct sim_slave *slave;
    uint16_t rail;
    const struct kr_drivemap *map;
    const uint8_t *request;
    size_t length;
    uint8_t *answer; /* its first byte is already written */
};

static size_t exception(const struct call *c, uint8_t code)
{
    c->slave->drive[c->rail].exceptions++;
    c->answer[0] |= 0x80;
    c->answer[1] = code;
    return 2;
}

static size_t read_holding(const struct call *c)
{
    if (c->length != 5)
        return exception(c, ILLEGAL_VALUE);
    uint16_t address = word_at(c->request + 1), n = word_at(c->request + 3);
    if (n < 1 || n > 125)
        return exception(c, ILLEGAL_VALUE);
    if (!can_read(c->slave, c->rail, address, n))
        return exception(c, ILLEGAL_ADDRESS);
    hand_over(c->slave, c->rail);
    return read_all(c->slave, c->rail, address, n, c->answer);
}

static size_t write_one(const struct call *c)
{
    if (c->length != 5)
        return exception(c, ILLEGAL_VALUE);
    uint16_t address = word_at(c->request + 1);
    if (!can_write(c->map, address, 1))
        return exception(c, ILLEGAL_ADDRESS);
    write_all(c->slave, c->rail, address, 1, c->request + 3);
    hand_over(c->slave, c->rail);
    memcpy(c->answer + 1, c->request + 1, 4);
    return 5;
}

static size_t write_many(const struct call *c)
{
    if (c->length < 6)
        return exception(c, ILLEGAL_VALUE);
    uint16_t address = word_at(c->request + 1), n = word_at(c->request + 3);
    if (n < 1 || n > 123 || c->request[5] != 2 * n || c->length != 6u + 2u * n)
        return exception(c, ILLEGAL_VALUE);
    if (!can_write(c->map, address, n))
        return exception(c, ILLEGAL_ADDRESS);
    write_all(c->slave, c->rail, address, n, c->request + 6);
    hand_over(c->slave, c->rail);
    memcpy(c->answer + 1, c->request + 1, 4);
    return 5;
}

static size_t write_and_read(const struct call *c)
{
    if (c->length < 10)
        return exception(c, ILLEGAL_VALUE);
    uint16_t from = word_at(c->request + 1), n_from = word_at(c->request + 3);
    uint16_t to = word_at(c->request + 5), n_to = word_at(c->request + 7);
    if (n_from < 1 || n_from > 125 || n_to < 1 || n_to > 121 || c->request[9] != 2 * n_to ||
        c->length != 10u + 2u * n_to)
        return exception(c, ILLEGAL_VALUE);
    if (!can_read(c->slave, c->rail, from, n_from) || !can_write(c->map, to, n_to))
        return exception(c, ILLEGAL_ADDRESS);
    write_all(c->slave, c->rail, to, n_to, c->request + 10);
    hand_over(c->slave, c->rail);
    return read_all(c->slave, c->rail, from, n_from, c->answer);
}

size_t sim_slave_serve(struct sim_slave *slave, uint16_t rail, const uint8_t *request, size_t length, uint8_t *answer)
{
    struct kr_axis_in in;
    sim_machine_read(slave->machine, rail, &in);
    if (length < 1 || !in.link)
        return 0;
    slave->drive[rail].requests++;
    struct call c = {slave, rail, &slave->drive[rail].map, request, length, answer};
    answer[0] = request[0];
    switch (request[0]) {
    case READ_HOLDING: return read_holding(&c);
    case WRITE_ONE: return write_one(&c);
    case WRITE_MANY: return write_many(&c);
    case WRITE_AND_READ: return write_and_read(&c);
    default: return exception(&c, ILLEGAL_FUNCTION);
    }
}

int32_t sim_slave_delay_ms(const struct sim_slave *slave, uint16_t rail)
{
    if (!sim_machine_broken(slave->machine, rail, SIM_SLOW_ANSWERS))
        return 0;
    return slave->machine->axis[rail].value[SIM_SLOW_ANSWERS];
}

/* ---- serial line --------------------------------------------------------------------------------------- */

uint16_t sim_rtu_crc(const uint8_t *bytes, size_t length)
{
    uint16_t crc = 0xFFFF;
    for (size_t i = 0; i < length; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = crc & 1 ? (uint16_t)(crc >> 1 ^ 0xA001) : (uint16_t)(crc >> 1);
    }
    return crc;
}

size_t sim_rtu_request_length(const uint8_t *bytes, size_t length)
{
    if (length < 2)
        return 0;
    switch (bytes[1]) {
    case READ_HOLDING:
    case WRITE_ONE: return 8;
    case WRITE_MANY: return length < 7 ? 0 : 9u + bytes[6];
    case WRITE_AND_READ: return length < 11 ? 0 : 13u + bytes[10];
    default: return SIM_RTU_MAX + 1;
    }
}
