/* fuzz_frame: any bytes as the stream of a client, over the real register map, with cycles of the station
 * in between. What must hold: every frame that can be framed gets exactly one answer, of a length that a
 * frame can have, under its own header and function; an exception changes nothing; no client writes what
 * the station published.
 *
 * The input is a row of steps: a byte that says what, then its bytes. With libFuzzer (KR_FUZZ), or as a
 * program of its own that makes its input itself: fuzz_frame RUNS SEED. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "frame.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static struct kr_face_config config = {
    .n_stations = 2,
    .station = {{.name = "north", .unit_id = 1}, {.name = "south", .unit_id = 2}},
    .default_station = 0,
    .identity = {"vendor", "code", "1.0", "", "name", "", ""},
};
static struct face_layout layout;
static struct face_notes notes;
static uint64_t left_out, n_answers, n_exceptions;
static struct face_registers registers[2], before[2];
static struct face_stations stations = {.config = &config, .registers = registers};
static struct kr_image image;

static void insist(bool holds, const char *what)
{
    if (holds)
        return;
    fprintf(stderr, "fuzz_frame: not so: %s\n", what);
    abort();
}

static void set_up(void)
{
    struct kr_face_hooks none = {0};
    face_layout_build(&layout);
    face_notes_init(&notes, &none, &left_out);
    for (uint16_t i = 0; i < 2; i++)
        face_registers_init(&registers[i], &layout, &config, &config.station[i], &notes);
    face_stations_map_unit_ids(&stations);
    memset(&image, 0x5A, sizeof image);
}

/* Right and address from one byte: four of each. */
static struct face_client client_of(uint8_t byte)
{
    static const enum kr_right rights[] = {KR_RIGHT_READ, KR_RIGHT_CONTROL, KR_RIGHT_MAINTAIN, KR_RIGHT_MAINTAIN};
    struct face_client client = {.right = rights[byte & 3], .group = FACE_NO_GROUP, .text = "192.0.2.1"};
    client.address[15] = byte >> 2 & 3;
    memset(client.at_station, (int)client.right, sizeof client.at_station);
    return client;
}

static void check_answer(const uint8_t *adu, const uint8_t *out, size_t n_out)
{
    insist(n_out >= FACE_MBAP_BYTES + 2 && n_out <= FACE_ADU_BYTES_MAX, "an answer has 9 to 260 bytes");
    insist(memcmp(out, adu, 4) == 0 && out[6] == adu[6], "an answer carries its request's header");
    insist(get16(out + 4) == n_out - 6, "an answer's length field tells its length");
    bool exception = out[7] == (adu[7] | 0x80);
    insist(exception || out[7] == adu[7], "an answer carries its request's function");
    n_answers++;
    n_exceptions += exception;
    if (!exception)
        return;
    insist(n_out == FACE_MBAP_BYTES + 2, "an exception has two bytes");
    uint8_t code = out[8];
    insist(code == 1 || code == 2 || code == 3 || code == 6 || code == 10, "an exception is one of five");
    for (size_t i = 0; i < sizeof before / sizeof before[0]; i++) /* but what the client is told of it */
        memcpy(before[i].odd, registers[i].odd, sizeof before[i].odd);
    insist(memcmp(registers, before, sizeof registers) == 0, "an exception changes nothing");
}

/* One client's stream: as the server cuts it. Frame and answer stand in memory of their exact sizes, for
 * the sanitizer. */
static void feed(const struct face_client *client, const uint8_t *bytes, size_t n)
{
    size_t length = 0;
    for (size_t at = 0; at < n; at += length) {
        enum face_frame kind = face_frame_at(bytes + at, n - at, &length);
        if (kind == FACE_FRAME_PARTIAL || kind == FACE_FRAME_BROKEN)
            return;
        if (kind == FACE_FRAME_FOREIGN)
            continue;
        uint8_t *adu = malloc(length), *out = malloc(FACE_ADU_BYTES_MAX);
        insist(adu != NULL && out != NULL, "there is memory");
        memcpy(adu, bytes + at, length);
        memcpy(before, registers, sizeof before);
        size_t n_out = face_answer(&stations, client, adu, length, out);
        check_answer(adu, out, n_out);
        free(adu);
        free(out);
    }
}

static void cycle(uint8_t byte)
{
    struct face_registers *r = &registers[byte & 1];
    static struct kr_face_take take;
    face_registers_take(r, &take);
    struct kr_face_state state = {
        .request_busy = byte & 2,
        .edit_busy = byte & 4,
        .drop_control = byte & 8,
        .moving = byte & 16,
        .control_generation = take.control_generation,
    };
    config.control_by_first_write = byte & 32;
    face_registers_publish(r, &image, &state);
    insist(memcmp(r->input, image.word, sizeof r->input) == 0, "what the station published is there");
}

/* What byte, length byte, then as many bytes: a stream; or what byte alone: a cycle. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    set_up();
    for (size_t at = 0; at + 2 <= n;) {
        uint8_t what = data[at++];
        if (what & 0x80) {
            cycle(what);
            continue;
        }
        struct face_client client = client_of(what);
        size_t length = data[at++];
        length = at + length > n ? n - at : length;
        feed(&client, data + at, length);
        at += length;
    }
    for (int i = 0; i < 2; i++)
        for (size_t k = 0; k < KR_MAP_INPUT_WORDS; k++)
            insist(registers[i].input[k] == 0 || registers[i].input[k] == 0x5A5A, "no client writes an input register");
    return 0;
}

#ifndef KR_FUZZ

static uint64_t state;

/* xorshift64 (Marsaglia, Xorshift RNGs, 2003). */
static uint32_t draw(uint32_t below)
{
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (uint32_t)(state >> 32) % below;
}

/* A request that is nearly right: addresses at the edges of blocks, quantities near the limits. */
static size_t put_request(uint8_t *at)
{
    static const uint8_t functions[] = {1, 2, 3, 4, 5, 6, 15, 16, 22, 23, 43, 16, 6, 23};
    static const uint16_t addresses[] = {0,  1,   15,  16,  16,  32,  40,   47,    96,
                                         98, 120, 375, 399, 400, 402, 9999, 10000, 65535};
    size_t n = 12;
    memset(at, 0, 260);
    at[1] = (uint8_t)draw(256);
    at[6] = (uint8_t)(draw(8) ? draw(3) : draw(256));
    at[7] = draw(16) ? functions[draw(sizeof functions)] : (uint8_t)draw(256);
    put16(at + 8, addresses[draw(sizeof addresses / sizeof addresses[0])]);
    put16(at + 10, (uint16_t)(draw(4) ? draw(8) : draw(130)));
    if (at[7] == 15 || at[7] == 16) {
        at[12] = (uint8_t)(at[7] == 16 ? 2 * at[11] : (at[11] + 7) / 8);
        n = 13u + at[12];
    } else if (at[7] == 22) {
        n = 14;
    } else if (at[7] == 23) {
        put16(at + 12, addresses[draw(sizeof addresses / sizeof addresses[0])]);
        at[15] = (uint8_t)(1 + draw(8));
        at[16] = (uint8_t)(2 * at[15]);
        n = 17u + at[16];
    }
    n = n > 255 ? 255 : n;
    for (size_t i = 13; i < n; i++)
        at[i] = at[7] == 23 && i < 17 ? at[i] : (uint8_t)draw(4);
    put16(at + 4, (uint16_t)(n - 6));
    return n;
}

static size_t make_input(uint8_t *data, size_t size)
{
    size_t n = 0;
    while (n + 600 < size) {
        if (draw(3) == 0) {
            data[n++] = (uint8_t)(0x80 | draw(128));
            continue;
        }
        data[n] = (uint8_t)draw(16);
        size_t length = put_request(data + n + 2);
        data[n + 1] = (uint8_t)length;
        if (draw(8) == 0)
            data[n + 2 + draw((uint32_t)length)] = (uint8_t)draw(256);
        n += 2 + length;
    }
    return n;
}

int main(int argc, char **argv)
{
    static uint8_t data[4096];
    long runs = argc > 1 ? strtol(argv[1], NULL, 10) : 1000;
    state = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    printf("fuzz_frame: %ld runs, seed %llu\n", runs, (unsigned long long)state);
    for (long i = 0; i < runs; i++)
        LLVMFuzzerTestOneInput(data, make_input(data, sizeof data));
    printf("fuzz_frame: %llu answers, %llu of them exceptions\n", (unsigned long long)n_answers,
           (unsigned long long)n_exceptions);
    return n_exceptions > 0 && n_exceptions < n_answers ? EXIT_SUCCESS
                                                        : EXIT_FAILURE; /* else it tested one side only */
}

#endif
