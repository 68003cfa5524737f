#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "map_words.h"

const char kr_map_help[] =
    "Prints the register map, from the table that the server itself is built on.\n"
    "  md    a document to work from: rules, handshake, every register, every number, every code\n"
    "  csv   a tag list for import, one row a variable, arrays as arrays (RFC 4180)\n"
    "  json  for programs\n"
    "Addresses count from 0, as they go over the wire; the data model's numbers count from 1.\n"
    "No station is needed. Exit status: 0, or 2 wrong usage.\n";

int kr_cmd_map(int argc, char **argv)
{
    const char *format = "md";
    const struct kr_option option = {"format", &format, NULL};
    int answer = kr_read_only_options(argc, argv, &option, 1);
    if (answer != KR_RUN)
        return answer;
    if (strcmp(format, "md") == 0)
        return kr_map_markdown();
    if (strcmp(format, "csv") == 0)
        return kr_map_csv();
    if (strcmp(format, "json") == 0)
        return kr_map_json();
    return kr_usage("map", "--format: '%s'; one of md, csv, json", format);
}
