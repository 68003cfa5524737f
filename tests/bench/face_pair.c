/* face_pair: the other way to form an answer, kept to be measured against. The request is judged as ever;
 * then libmodbus forms the answer to its reads and writes through a socket pair, as a server on libmodbus
 * must if nothing that a client does may block it: the context never sees a client's socket, and every
 * reply is fetched from the pair.
 *
 * Linked into the test host in place of face_answer (--wrap), it makes the server `face_host_pair`. With
 * FACE_PAIR_MAIN it is a program of its own that forms answers both ways without any client and prints
 * nanoseconds and how many times as many. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>

#include "answer.h"
#include "wire.h"

size_t form_by_libmodbus(const uint8_t *adu, size_t n, uint8_t *out);
size_t __real_face_answer(struct face_stations *stations, const struct face_client *client, const uint8_t *adu,
                          size_t n, uint8_t *out);
size_t __wrap_face_answer(struct face_stations *stations, const struct face_client *client, const uint8_t *adu,
                          size_t n, uint8_t *out);

static modbus_t *context;
static modbus_mapping_t *mapping;
static int pair[2];

static void set_up(void)
{
    context = modbus_new_tcp("127.0.0.1", 0);
    mapping = modbus_mapping_new(2000, 2000, 20000, 20000);
    if (context == NULL || mapping == NULL || socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_NONBLOCK, 0, pair) != 0)
        abort();
    modbus_set_socket(context, pair[0]);
}

size_t form_by_libmodbus(const uint8_t *adu, size_t n, uint8_t *out)
{
    if (context == NULL)
        set_up();
    modbus_reply(context, adu, (int)n, mapping);
    ssize_t got = recv(pair[1], out, FACE_ADU_BYTES_MAX, 0);
    if (got < 0)
        abort();
    return (size_t)got;
}

#ifndef FACE_PAIR_MAIN

size_t __wrap_face_answer(struct face_stations *stations, const struct face_client *client, const uint8_t *adu,
                          size_t n, uint8_t *out)
{
    size_t n_out = __real_face_answer(stations, client, adu, n, out);
    if (out[7] & FACE_EXCEPTION_BIT || out[7] == FACE_FC_ENCAPSULATED)
        return n_out;
    return form_by_libmodbus(adu, n, out);
}

#else

#define ROUNDS 200000

static double now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec * 1e9 + (double)now.tv_nsec;
}

static struct face_layout layout;
static struct face_notes notes;
static uint64_t left_out;
static struct face_registers registers;
static struct kr_face_config config = {.n_stations = 1, .station = {{.name = "bench", .unit_id = 1}}};
static struct face_stations stations = {.config = &config, .registers = &registers};
static struct face_client client = {.right = KR_RIGHT_CONTROL, .group = FACE_NO_GROUP};

static void measure(const char *name, const uint8_t *adu, size_t n)
{
    uint8_t out[FACE_ADU_BYTES_MAX];
    size_t bytes = 0;
    double begin = now_ns();
    for (int i = 0; i < ROUNDS; i++)
        bytes += face_answer(&stations, &client, adu, n, out);
    double by_hand = (now_ns() - begin) / ROUNDS;
    begin = now_ns();
    for (int i = 0; i < ROUNDS; i++)
        bytes -= form_by_libmodbus(adu, n, out);
    double by_libmodbus = (now_ns() - begin) / ROUNDS;
    printf("%-28s judged and formed by hand %6.0f ns, formed by libmodbus %6.0f ns: %.1f times%s\n", name, by_hand,
           by_libmodbus, by_libmodbus / by_hand, bytes == 0 ? "" : " (the answers differ in length)");
}

/* For an instruction counter: 1000 answers and nothing else. */
static int count(const uint8_t *adu, size_t n)
{
    uint8_t out[FACE_ADU_BYTES_MAX];
    for (int i = 0; i < 1000; i++)
        face_answer(&stations, &client, adu, n, out);
    return out[7] == adu[7] ? EXIT_SUCCESS : EXIT_FAILURE;
}

int main(int argc, char **argv)
{
    uint8_t read[12] = {[5] = 6, [6] = 1, [7] = 3, [8] = 0x27, [9] = 0x10, [11] = 125};
    uint8_t write[13 + 2 * 123] = {[4] = 0, [5] = 253, [6] = 1, [7] = 16, [9] = 120, [11] = 123, [12] = 246};
    face_layout_build(&layout);
    face_notes_init(&notes, NULL, &left_out);
    face_registers_init(&registers, &layout, &config, &config.station[0], &notes);
    face_stations_map_unit_ids(&stations);
    face_control_give(&registers.control, &client, KR_CONTROL_HELD, config.group);
    if (argc == 3 && strcmp(argv[1], "count") == 0)
        return strcmp(argv[2], "read") == 0 ? count(read, sizeof read) : count(write, sizeof write);
    measure("function 03, 125 registers", read, sizeof read);
    measure("function 16, 123 registers", write, sizeof write);
    return EXIT_SUCCESS;
}

#endif
