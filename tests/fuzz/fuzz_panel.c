/* fuzz_panel: any bytes as a browser's request to the panel, as a station on its command line, and as the file of a
 * station's past. What must hold: every request has an answer with a status, a media type and, where a station is
 * asked for, one that exists; only GET and HEAD are answered with more than a refusal, and only under a known name; an
 * address that is taken fits; of a file what is wrong is told, or what is made of it is a file that is right, too.
 *
 * The input is three texts with a 0 between them: method, host, path; or a file of records. With libFuzzer (KR_FUZZ),
 * or as a program of its own that makes its input itself: fuzz_panel RUNS SEED. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "args.h"
#include "mutate.h"
#include "records.h"
#include "route.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static const struct panel panel = {.n_stations = 3, .n_names = 1, .name = {"panel.example"}};
static uint64_t found, refused, addresses, records, wrong;

static void insist(bool holds, const char *what)
{
    if (holds)
        return;
    fprintf(stderr, "fuzz_panel: not so: %s\n", what);
    abort();
}

static void try_request(const char *method, const char *host, const char *path)
{
    struct route route = route_of(&panel, method, host, path);
    insist(route.type != NULL && route.status >= 200 && route.status < 600, "every request has an answer");
    insist(route.station >= 0 && route.station < panel.n_stations, "the station exists");
    insist((route.what == ROUTE_REFUSED) == (route.status != 200), "a refusal has its status");
    if (route.what == ROUTE_REFUSED || route.what == ROUTE_FILE)
        insist(route.text != NULL && route.size > 0, "there is something to send");
    if (route.what != ROUTE_REFUSED) {
        insist(strcmp(method, "GET") == 0 || strcmp(method, "HEAD") == 0, "it was only asked for");
        insist(host[0] != '\0', "by a name");
    }
    found += route.what != ROUTE_REFUSED;
    refused += route.what == ROUTE_REFUSED;
}

static void try_address(const char *text)
{
    struct watch_address address = {.port = "1502", .unit_id = 255};
    if (!args_address(text, &address))
        return;
    addresses++;
    insist(strlen(address.host) > 0 && strlen(address.host) < WATCH_HOST_MAX, "the host fits");
    insist(strlen(address.port) < WATCH_PORT_MAX && atoi(address.port) <= 65535, "the port is one");
    insist(address.unit_id >= 0 && address.unit_id <= 255, "the unit identifier is one");
}

/* Where a file is right, what is made of it says all that the panel shows. */
static void try_records(const char *bytes, size_t n)
{
    char error[RECORDS_ERROR_MAX];
    json_t *made = records_of_bytes(bytes, n, error);
    records += made != NULL;
    wrong += made == NULL;
    if (made == NULL) {
        insist(error[0] != '\0', "what is wrong is told");
        return;
    }
    char *text = json_dumps(made, JSON_COMPACT);
    insist(text != NULL, "it can be sent");
    json_t *again = records_of_bytes(text, strlen(text), error);
    insist(json_equal(made, again), "what is sent is right, and the same");
    insist(json_array_size(json_object_get(made, "changeovers")) <= RECORDS_CHANGEOVERS_MAX, "so many changeovers");
    json_decref(again);
    json_decref(made);
    free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    char *text = malloc(n + 3); /* of the exact size, for the sanitizer */
    insist(text != NULL, "there is memory");
    if (n > 0)
        memcpy(text, data, n);
    memset(text + n, 0, 3);
    const char *host = text + strlen(text) + 1, *path = host + strlen(host) + 1;
    try_request(text, host, path);
    try_address(path);
    try_records(text, n);
    free(text);
    return 0;
}

#ifndef KR_FUZZ

static const struct mutate_seed seeds[] = {
    SEED("GET\0localhost:8080\0/"),
    SEED("GET\0panel.example\0/api/v1/stations/3/events"),
    SEED("HEAD\0[::1]:8080\0/metrics"),
    SEED("POST\0localhost\0/api/v1/stations/1"),
    SEED("GET\0"
         "127.0.0.1\0"
         "gateway.example:1502/7"),
    SEED("GET\0localhost\0[fe80::1]:502/255"),
    SEED("GET\0localhost\0/api/v1/stations/2/records"),
};
#define N_SEEDS (sizeof seeds / sizeof seeds[0])

#define FILE_MAX 2000
static char file[FILE_MAX];
static size_t file_size;

static void read_example(void)
{
    FILE *from = fopen("tests/fuzz/panel/records.json", "r");
    insist(from != NULL, "the example can be read");
    file_size = fread(file, 1, sizeof file, from);
    insist(file_size > 0 && file_size < sizeof file && fclose(from) == 0, "as a whole");
}

/* Every fourth time the file of records. */
static void one_run(uint64_t seed, uint32_t run)
{
    uint8_t bytes[FILE_MAX];
    const struct mutate_seed example = {file, file_size};
    const struct mutate_seed *from = run % 4 == 0 ? &example : &seeds[mutate_draw(seed, run, 0) % N_SEEDS];
    memcpy(bytes, from->bytes, from->n);
    LLVMFuzzerTestOneInput(bytes, mutate(bytes, from->n, 0, seed, run));
}

int main(int argc, char *argv[])
{
    uint64_t seed;
    uint32_t runs = mutate_runs(argc, argv, &seed);
    read_example();
    for (uint32_t i = 0; i < runs; i++)
        one_run(seed, i);
    printf("fuzz_panel: %u runs, seed %llu: %llu found, %llu refused, %llu addresses; files of records: %llu "
           "right, "
           "%llu wrong\n",
           runs, (unsigned long long)seed, (unsigned long long)found, (unsigned long long)refused,
           (unsigned long long)addresses, (unsigned long long)records, (unsigned long long)wrong);
    return found > 0 && refused > 0 && addresses > 0 && records > 0 && wrong > 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}

#endif
