#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "map_words.h"

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
    return kr_usage("map", "--format: '%s'; allowed: md, csv, texts, json, st", format);
}
