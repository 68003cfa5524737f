#include "server.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "metrics.h"
#include "records.h"
#include "route.h"

#define CONNECTION_MEMORY 16384 /* the head of a request must fit into this */

struct server {
    const struct panel *panel;
    struct events *events;
    struct MHD_Daemon *daemon;
    struct records *records[PANEL_STATIONS_MAX]; /* used by the server's thread only; NULL: none were given */
};

/* ---- responses ------------------------------------------------------------------------------------------------- */

static const struct {
    const char *name, *value;
} headers[] = {
    {"Content-Security-Policy",
     "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; base-uri "
     "'none'; form-action 'none'; frame-ancestors 'none'"},
    {"X-Content-Type-Options", "nosniff"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Cache-Control", "no-store"}, /* an old state must not be shown as if it were the present one */
};

static enum MHD_Result queue(struct MHD_Connection *connection, const struct route *route,
                             struct MHD_Response *response)
{
    if (response == NULL)
        return MHD_NO; /* there is no memory, so the connection is closed */
    bool done = MHD_add_response_header(response, "Content-Type", route->type) == MHD_YES;
    for (size_t i = 0; done && i < sizeof headers / sizeof headers[0]; i++)
        done = MHD_add_response_header(response, headers[i].name, headers[i].value) == MHD_YES;
    if (done && route->status == MHD_HTTP_METHOD_NOT_ALLOWED)
        done = MHD_add_response_header(response, "Allow", "GET, HEAD") == MHD_YES;
    enum MHD_Result result = done ? MHD_queue_response(connection, (unsigned)route->status, response) : MHD_NO;
    MHD_destroy_response(response);
    return result;
}

static struct MHD_Response *of_text(char *text, size_t size)
{
    return text == NULL ? NULL : MHD_create_response_from_buffer(size, text, MHD_RESPMEM_MUST_FREE);
}

/* For a station that does not answer, the answer says only why: nothing old may seem current. */
static struct MHD_Response *station_response(struct watch *watch, struct route *route)
{
    size_t size;
    struct watch_view view = {.image = NULL};
    watch_look(watch, &view);
    route->status = view.answers ? MHD_HTTP_OK : MHD_HTTP_SERVICE_UNAVAILABLE;
    const char *text = shared_text(view.answers ? view.station : view.summary, &size);
    struct MHD_Response *response = MHD_create_response_from_buffer(size, (void *)text, MHD_RESPMEM_MUST_COPY);
    watch_let_go(&view);
    return response;
}

/* The drawing may be old, but the page asks for it only while the station answers. */
static struct MHD_Response *drawing_response(struct watch *watch, enum watch_drawing which, struct route *route)
{
    static const char none[] = "There is no drawing.\n";
    struct watch_view view = {.image = NULL};
    watch_look(watch, &view);
    bool is = view.answers && view.drawing[which] != NULL;
    size_t size = sizeof none - 1;
    const char *text = is ? shared_text(view.drawing[which], &size) : none;
    if (!is) {
        route->status = MHD_HTTP_SERVICE_UNAVAILABLE;
        route->type = "text/plain; charset=utf-8";
    }
    struct MHD_Response *response = MHD_create_response_from_buffer(size, (void *)text, MHD_RESPMEM_MUST_COPY);
    watch_let_go(&view);
    return response;
}

/* Copies the station's name, if the station has answered since this program's start. */
static bool name_of(struct watch *watch, char name[KR_NAME_MAX])
{
    struct kr_image *image = malloc(sizeof *image);
    struct watch_view view = {.image = image};
    if (image == NULL)
        return false;
    watch_look(watch, &view);
    bool answers = view.answers;
    watch_let_go(&view);
    if (answers)
        kr_get_text(image, KR_REG_STATION_NAME, name, KR_NAME_MAX);
    free(image);
    return answers;
}

/* The past is shown whether the station answers now or not. */
static struct MHD_Response *records_response(const struct server *server, struct route *route)
{
    static const char none[] = "{\"error\":\"the panel was given no file of records for this station (--records)\"}";
    char name[KR_NAME_MAX];
    size_t size;
    bool good;
    struct records *records = server->records[route->station];
    if (records == NULL) {
        route->status = MHD_HTTP_NOT_FOUND;
        return MHD_create_response_from_buffer(sizeof none - 1, (void *)none, MHD_RESPMEM_PERSISTENT);
    }
    bool named = name_of(server->panel->station[route->station], name);
    struct shared *shared = records_look(records, named ? name : NULL, &good);
    if (shared == NULL)
        return NULL;
    const char *text = shared_text(shared, &size);
    struct MHD_Response *response = MHD_create_response_from_buffer(size, (void *)text, MHD_RESPMEM_MUST_COPY);
    shared_release(shared);
    route->status = good ? MHD_HTTP_OK : MHD_HTTP_SERVICE_UNAVAILABLE;
    return response;
}

static struct MHD_Response *response_to(const struct server *server, struct MHD_Connection *connection,
                                        struct route *route)
{
    const struct panel *panel = server->panel;
    char *text;
    size_t size = 0;
    switch (route->what) {
    case ROUTE_REFUSED:
    case ROUTE_FILE: return MHD_create_response_from_buffer(route->size, (void *)route->text, MHD_RESPMEM_PERSISTENT);
    case ROUTE_STATIONS: text = events_list(panel, &size); return of_text(text, size);
    case ROUTE_METRICS: text = metrics_text(panel, &size); return of_text(text, size);
    case ROUTE_STATION: return station_response(panel->station[route->station], route);
    case ROUTE_DRAWING: return drawing_response(panel->station[route->station], WATCH_RAILS, route);
    case ROUTE_NEXT: return drawing_response(panel->station[route->station], WATCH_NEXT, route);
    case ROUTE_RECORDS: return records_response(server, route);
    case ROUTE_LIST_EVENTS: return events_response(server->events, connection, EVENTS_LIST);
    case ROUTE_STATION_EVENTS: return events_response(server->events, connection, route->station);
    }
    return NULL;
}

/* libmicrohttpd calls this once when the head of a request has come, once more for a body, which is ignored, and once
 * at the end of the request. */
static enum MHD_Result on_request(void *of_server, struct MHD_Connection *connection, const char *url,
                                  const char *method, const char *version, const char *body, size_t *body_size,
                                  void **of_request)
{
    static int begun;
    const struct server *server = of_server;
    const char *host = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "Host");
    (void)version, (void)body;
    if (*of_request == NULL) {
        *of_request = &begun;
        return MHD_YES;
    }
    if (*body_size != 0) {
        *body_size = 0;
        return MHD_YES;
    }
    struct route route = route_of(server->panel, method, host, url);
    return queue(connection, &route, response_to(server, connection, &route));
}

/* ---- beginning and end ----------------------------------------------------------------------------------------- */

static void end_records(struct server *server)
{
    for (int i = 0; i < PANEL_STATIONS_MAX; i++)
        records_free(server->records[i]);
}

static bool begin_records(struct server *server)
{
    const struct panel *panel = server->panel;
    for (int i = 0; i < panel->n_stations; i++) {
        server->records[i] = panel->records[i] != NULL ? records_new(panel->records[i]) : NULL;
        if (panel->records[i] != NULL && server->records[i] == NULL)
            return false;
    }
    return true;
}

struct server *server_start(const struct panel *panel, struct events *events, int listening, char *error,
                            size_t error_size)
{
    struct server *server = calloc(1, sizeof *server);
    if (server == NULL) {
        snprintf(error, error_size, "no memory");
        return NULL;
    }
    server->panel = panel;
    server->events = events;
    if (!begin_records(server)) {
        snprintf(error, error_size, "no memory");
        end_records(server);
        free(server);
        return NULL;
    }
    server->daemon =
        MHD_start_daemon(MHD_USE_EPOLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME, 0, NULL, NULL, on_request, server,
                         MHD_OPTION_LISTEN_SOCKET, listening, MHD_OPTION_CONNECTION_LIMIT,
                         (unsigned)SERVER_CONNECTIONS_MAX, MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)SERVER_IDLE_S,
                         MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)CONNECTION_MEMORY, MHD_OPTION_END);
    if (server->daemon != NULL)
        return server;
    snprintf(error, error_size, "the web server does not start");
    end_records(server);
    free(server);
    return NULL;
}

void server_end(struct server *server)
{
    MHD_stop_daemon(server->daemon);
    end_records(server);
    free(server);
}
