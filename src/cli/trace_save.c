/* kniferail trace save: a maintenance request to the gateway to keep what it has recorded. */
#include <stdio.h>

#include "address.h"
#include "cli.h"
#include "edit_request.h"
#include "trace_view.h"

static int ask(struct kr_client *client)
{
    static struct edit_block block;
    char sentence[KR_SENTENCE_MAX];
    block.format = client->image.format;
    *edit_at(&block, KR_REG_EDIT_KIND, 0) = KR_EDIT_TRACE;
    if (!edit_ask(client, &block)) {
        fprintf(stderr, "kniferail trace: %s\n", client->error);
        return KR_EXIT_REFUSED;
    }
    struct kr_result result = edit_result(&client->image);
    if (result.code == KR_OK) {
        printf("accepted: the gateway's log names the file once it is written, or says why there is none\n");
        return kr_flushed(KR_EXIT_OK);
    }
    kr_result_text(&result, client->image.format.length_unit, sentence, sizeof sentence);
    fprintf(stderr, "kniferail trace: refused: %s\n", sentence);
    return KR_EXIT_REFUSED;
}

int trace_save(int argc, char **argv)
{
    static struct kr_client client;
    struct kr_address_options where = KR_ADDRESS_DEFAULTS;
    struct kr_client_address address;
    const struct kr_option options[] = {KR_ADDRESS_OPTIONS(where)};
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer != KR_RUN)
        return answer;
    if (!kr_address_read("trace", &where, &address))
        return KR_EXIT_USAGE;
    if (!kr_client_open(&client, &address)) {
        fprintf(stderr, "kniferail trace: %s\n", client.error);
        return KR_EXIT_REFUSED;
    }
    int status = ask(&client);
    kr_client_close(&client);
    return status;
}
