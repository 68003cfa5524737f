#include "route.h"

#include <string.h>
#include <strings.h>

#include "pages.h"

static struct route refused(int status, const char *text)
{
    return (struct route){ROUTE_REFUSED, status, 0, "text/plain; charset=utf-8", text, strlen(text)};
}

/* Returns the length of the name without the port: "localhost:8080", "[::1]:8080". */
static size_t name_length(const char *host)
{
    const char *end = host[0] == '[' ? strchr(host, ']') : strchr(host, ':');
    if (end == NULL)
        return strlen(host);
    return (size_t)(end - host) + (host[0] == '[' ? 1 : 0);
}

static bool is_name(const char *host, size_t n, const char *name)
{
    return strlen(name) == n && strncasecmp(host, name, n) == 0;
}

static bool is_known(const struct panel *panel, const char *host)
{
    static const char *const loopback[] = {"localhost", "127.0.0.1", "[::1]"};
    if (panel->any_name)
        return true;
    if (host == NULL)
        return false;
    size_t n = name_length(host);
    for (size_t i = 0; i < sizeof loopback / sizeof loopback[0]; i++)
        if (is_name(host, n, loopback[i]))
            return true;
    for (int i = 0; i < panel->n_names; i++)
        if (is_name(host, n, panel->name[i]))
            return true;
    return false;
}

/* Reads the number at the beginning of text, from 1 to most; 0 if there is none. rest: the text after it. */
static int number_at(const char *text, int most, const char **rest)
{
    int n = 0;
    if (*text == '0')
        return 0;
    while (*text >= '0' && *text <= '9') {
        n = 10 * n + (*text++ - '0');
        if (n > most)
            return 0;
    }
    *rest = text;
    return n;
}

static struct route api(const struct panel *panel, const char *path)
{
    static const char json[] = "application/json", events[] = "text/event-stream";
    const char *rest = "";
    if (strcmp(path, "stations") == 0)
        return (struct route){ROUTE_STATIONS, 200, 0, json, NULL, 0};
    if (strcmp(path, "events") == 0)
        return (struct route){ROUTE_LIST_EVENTS, 200, 0, events, NULL, 0};
    int number = strncmp(path, "stations/", 9) == 0 ? number_at(path + 9, panel->n_stations, &rest) : 0;
    if (number == 0)
        return refused(404, "There is no such station.\n");
    if (*rest == '\0')
        return (struct route){ROUTE_STATION, 200, number - 1, json, NULL, 0};
    if (strcmp(rest, "/events") == 0)
        return (struct route){ROUTE_STATION_EVENTS, 200, number - 1, events, NULL, 0};
    if (strcmp(rest, "/drawing.svg") == 0)
        return (struct route){ROUTE_DRAWING, 200, number - 1, "image/svg+xml", NULL, 0};
    if (strcmp(rest, "/records") == 0)
        return (struct route){ROUTE_RECORDS, 200, number - 1, json, NULL, 0};
    if (strcmp(rest, "/next.svg") == 0)
        return (struct route){ROUTE_NEXT, 200, number - 1, "image/svg+xml", NULL, 0};
    return refused(404, "There is no such page.\n");
}

struct route route_of(const struct panel *panel, const char *method, const char *host, const char *path)
{
    static const char prefix[] = "/api/v1/";
    if (!is_known(panel, host))
        return refused(421, "This program does not answer to this host name; --name allows a further one.\n");
    if (strcmp(method, "GET") != 0 && strcmp(method, "HEAD") != 0)
        return refused(405, "This program only shows stations: it answers only GET and HEAD.\n");
    if (strncmp(path, prefix, sizeof prefix - 1) == 0)
        return api(panel, path + sizeof prefix - 1);
    if (strcmp(path, "/metrics") == 0)
        return (struct route){ROUTE_METRICS, 200, 0, "text/plain; version=0.0.4; charset=utf-8", NULL, 0};
    for (const struct page *page = pages; page->path != NULL; page++)
        if (strcmp(path, page->path) == 0)
            return (struct route){ROUTE_FILE, 200, 0, page->type, (const char *)page->bytes, page->size};
    return refused(404, "There is no such page.\n");
}
