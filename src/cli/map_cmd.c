#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "map_words.h"

const char kr_map_help[] =
    "Prints the register map, from the table that the server itself is built on.\n"
    "  md     a document to work from: rules, handshake, every register, every number, every code\n"
    "  csv    a tag list for import, one row a variable, arrays as arrays, named bits as tags (RFC 4180)\n"
    "  texts  text lists for an operator's HMI: the words of every number, bit, result and alarm (RFC 4180)\n"
    "  json   for programs\n"
    "  st     types, constants and texts for an IEC 61131-3 program, as Structured Text\n"
    "Addresses count from 0, as they go over the wire; the data model's numbers count from 1.\n"
    "No station is needed. Exit status: 0, or 2 wrong usage.\n";

int kr_cmd_map(int argc, char **argv)
{
    const char *format = "md";
    const struct kr_option option = {"format", &format, NULL};
    int answer = kr_read_only_options(argc, argv, &option, 1);
    if (answer != KR_RUN)
        return answer;
    static const struct {
        const char *name;
        int (*print)(void);
    } forms[] = {{"md", kr_map_markdown},
                 {"csv", kr_map_csv},
                 {"texts", kr_map_texts},
                 {"json", kr_map_json},
                 {"st", kr_map_st}};
    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++)
        if (strcmp(format, forms[i].name) == 0)
            return forms[i].print();
    return kr_usage("map", "--format: '%s'; one of md, csv, texts, json, st", format);
}
