#include "cut_vfs.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FILES_MAX   8
#define SECTOR      512 /* the smallest piece that a write is torn into */
#define SHM_PAGE    32768
#define SHM_PAGES   4
#define PENDING_MAX 4096

/* ---- the disk --------------------------------------------------------------------------------------------- */

struct bytes {
    unsigned char *at;
    size_t size;
};

/* A step that is not synced yet: a write, or a truncation if data is NULL. */
struct pending {
    long number; /* in the order of all files' steps */
    unsigned char *data;
    size_t offset, size;
};

struct node {
    char name[160];
    bool there, there_stable; /* as seen; as the folder on the disk has it */
    bool sync_folder;         /* with the file's next sync */
    struct bytes seen, stable;
    int n_pending;
    struct pending pending[PENDING_MAX];
};

static struct node disk[FILES_MAX];
static struct bytes saved[FILES_MAX];
static char saved_name[FILES_MAX][160];
static unsigned char shm[SHM_PAGES][SHM_PAGE];

static long step_number, power_at, fail_at;
static unsigned fail_kinds;
static int fail_rc;
static bool is_off, fail_for_good, has_failed, read_only;

static void *grown(void *at, size_t size)
{
    void *memory = realloc(at, size != 0 ? size : 1);
    if (memory == NULL)
        abort();
    return memory;
}

static void resize(struct bytes *bytes, size_t size)
{
    bytes->at = grown(bytes->at, size);
    if (size > bytes->size)
        memset(bytes->at + bytes->size, 0, size - bytes->size);
    bytes->size = size;
}

static void put(struct bytes *bytes, size_t offset, const unsigned char *data, size_t size)
{
    if (offset + size > bytes->size)
        resize(bytes, offset + size);
    memcpy(bytes->at + offset, data, size);
}

static void copy(struct bytes *to, const struct bytes *from)
{
    resize(to, from->size);
    if (from->size != 0)
        memcpy(to->at, from->at, from->size);
}

static struct node *find(const char *name)
{
    for (int i = 0; i < FILES_MAX; i++)
        if (strcmp(disk[i].name, name) == 0)
            return &disk[i];
    return NULL;
}

static struct node *find_or_make(const char *name)
{
    struct node *node = find(name);
    for (int i = 0; node == NULL && i < FILES_MAX; i++)
        if (disk[i].name[0] == 0)
            node = &disk[i];
    if (node == NULL)
        abort();
    snprintf(node->name, sizeof node->name, "%s", name);
    return node;
}

static void forget_pending(struct node *node)
{
    for (int i = 0; i < node->n_pending; i++)
        free(node->pending[i].data);
    node->n_pending = 0;
}

static void remember(struct node *node, const void *data, size_t offset, size_t size)
{
    if (node->n_pending == PENDING_MAX)
        abort();
    struct pending *p = &node->pending[node->n_pending++];
    *p = (struct pending){.number = step_number, .offset = offset, .size = size};
    if (data == NULL)
        return;
    p->data = grown(NULL, size);
    memcpy(p->data, data, size);
}

void cut_format(void)
{
    for (int i = 0; i < FILES_MAX; i++) {
        forget_pending(&disk[i]);
        free(disk[i].seen.at);
        free(disk[i].stable.at);
    }
    memset(disk, 0, sizeof disk);
    memset(shm, 0, sizeof shm);
    step_number = power_at = fail_at = 0;
    is_off = has_failed = read_only = false;
}

/* ---- what is planned -------------------------------------------------------------------------------------- */

void cut_power_at(long nth)
{
    step_number = 0;
    power_at = nth;
}

bool cut_is_off(void)
{
    return is_off;
}

long cut_steps(void)
{
    return step_number;
}

void cut_fail_at(long nth, unsigned kinds, int rc, bool for_good)
{
    fail_at = nth;
    fail_kinds = kinds;
    fail_rc = rc;
    fail_for_good = for_good;
    has_failed = false;
}

bool cut_failed(void)
{
    return has_failed;
}

static bool fails(enum cut_step kind)
{
    if (fail_at == 0 || !(fail_kinds & kind))
        return false;
    if (fail_at > 1) {
        fail_at--;
        return false;
    }
    if (!fail_for_good)
        fail_at = 0;
    has_failed = true;
    return true;
}

/* SQLITE_OK: the step is to be done. A step that power is cut in is begun: it is among the pending ones, and its caller
 * gets no answer that he may believe. */
static int begin(enum cut_step kind)
{
    if (is_off)
        return SQLITE_IOERR;
    if (read_only && kind & CUT_CHANGES)
        return SQLITE_READONLY;
    if (fails(kind))
        return fail_rc;
    if (kind & CUT_CHANGES && ++step_number == power_at)
        is_off = true;
    return SQLITE_OK;
}

static int answer(void)
{
    return is_off ? SQLITE_IOERR : SQLITE_OK;
}

/* ---- power ------------------------------------------------------------------------------------------------ */

static uint64_t drawn(uint64_t *state) /* splitmix64 */
{
    uint64_t z = *state += 0x9E3779B97F4A7C15u;
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9u;
    z = (z ^ z >> 27) * 0x94D049BB133111EBu;
    return z ^ z >> 31;
}

static void settle(struct node *node, const struct pending *p, bool torn, uint64_t *state)
{
    if (p->data == NULL) {
        resize(&node->stable, p->offset);
        return;
    }
    for (size_t at = 0, n; at < p->size; at += n) {
        n = SECTOR - (p->offset + at) % SECTOR;
        n = n < p->size - at ? n : p->size - at;
        if (!torn || drawn(state) % 2 == 0)
            put(&node->stable, p->offset + at, p->data + at, n);
    }
}

static void settle_node(struct node *node, enum cut_keep keep, long moment, uint64_t *state)
{
    for (int i = 0; i < node->n_pending; i++) {
        const struct pending *p = &node->pending[i];
        if (keep == CUT_KEEP_ALL || (keep == CUT_KEEP_PREFIX && p->number < moment))
            settle(node, p, false, state);
        else if (keep == CUT_KEEP_PREFIX && p->number == moment)
            settle(node, p, true, state);
        else if (keep == CUT_KEEP_ANY && drawn(state) % 2 == 0)
            settle(node, p, drawn(state) % 2 == 0, state);
    }
    bool entry = keep == CUT_KEEP_ALL || (keep != CUT_KEEP_SYNCED && drawn(state) % 2 == 0);
    if (entry)
        node->there_stable = node->there;
}

void cut_power_up(enum cut_keep keep, uint64_t seed)
{
    uint64_t state = seed;
    long moment = (long)(drawn(&state) % (uint64_t)(step_number + 1)) + 1;
    for (int i = 0; i < FILES_MAX; i++) {
        struct node *node = &disk[i];
        settle_node(node, keep, moment, &state);
        forget_pending(node);
        node->there = node->there_stable;
        node->sync_folder = false;
        if (!node->there)
            resize(&node->stable, 0);
        copy(&node->seen, &node->stable);
    }
    memset(shm, 0, sizeof shm); /* the first to open a WAL after a start makes it anew */
    is_off = false;
    cut_power_at(0);
    cut_fail_at(0, 0, 0, false);
}

/* ---- files, as SQLite asks for them ------------------------------------------------------------------------ */

struct cut_file {
    sqlite3_file base;
    struct node *node;
};

static struct node *node_of(sqlite3_file *file)
{
    return ((struct cut_file *)file)->node;
}

static int cut_close(sqlite3_file *file)
{
    (void)file;
    return SQLITE_OK;
}

static int cut_read(sqlite3_file *file, void *to, int n, sqlite3_int64 offset)
{
    const struct bytes *seen = &node_of(file)->seen;
    int rc = begin(CUT_READ);
    if (rc != SQLITE_OK)
        return rc;
    size_t at = (size_t)offset, wanted = (size_t)n;
    size_t there = at >= seen->size ? 0 : seen->size - at < wanted ? seen->size - at : wanted;
    memcpy(to, seen->at + (there != 0 ? at : 0), there);
    memset((char *)to + there, 0, wanted - there);
    return there == wanted ? SQLITE_OK : SQLITE_IOERR_SHORT_READ;
}

static int cut_write(sqlite3_file *file, const void *from, int n, sqlite3_int64 offset)
{
    struct node *node = node_of(file);
    int rc = begin(CUT_WRITE);
    if (rc != SQLITE_OK)
        return rc;
    remember(node, from, (size_t)offset, (size_t)n);
    put(&node->seen, (size_t)offset, from, (size_t)n);
    return answer();
}

static int cut_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    struct node *node = node_of(file);
    int rc = begin(CUT_TRUNCATE);
    if (rc != SQLITE_OK)
        return rc;
    remember(node, NULL, (size_t)size, 0);
    resize(&node->seen, (size_t)size);
    return answer();
}

static void folder_sync(void)
{
    for (int i = 0; i < FILES_MAX; i++)
        disk[i].there_stable = disk[i].there;
}

static int cut_sync(sqlite3_file *file, int flags)
{
    struct node *node = node_of(file);
    (void)flags;
    int rc = begin(CUT_SYNC);
    if (rc != SQLITE_OK || is_off)
        return rc != SQLITE_OK ? rc : SQLITE_IOERR_FSYNC;
    copy(&node->stable, &node->seen);
    forget_pending(node);
    if (node->sync_folder)
        folder_sync();
    node->sync_folder = false;
    return SQLITE_OK;
}

static int cut_file_size(sqlite3_file *file, sqlite3_int64 *size)
{
    *size = (sqlite3_int64)node_of(file)->seen.size;
    return answer();
}

static int cut_lock(sqlite3_file *file, int level)
{
    (void)file;
    (void)level;
    return SQLITE_OK;
}

static int cut_check_lock(sqlite3_file *file, int *out)
{
    (void)file;
    *out = 0;
    return SQLITE_OK;
}

static int cut_control(sqlite3_file *file, int op, void *arg)
{
    (void)file;
    (void)op;
    (void)arg;
    return SQLITE_NOTFOUND;
}

static int cut_sector_size(sqlite3_file *file)
{
    (void)file;
    return 4096;
}

/* As SQLite's own for Unix has it: a torn write harms no byte beside those written. */
static int cut_characteristics(sqlite3_file *file)
{
    (void)file;
    return SQLITE_IOCAP_POWERSAFE_OVERWRITE;
}

static int cut_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **memory)
{
    (void)file;
    (void)extend;
    int rc = begin(CUT_SHM);
    if (rc != SQLITE_OK)
        return rc;
    if (page >= SHM_PAGES || size != SHM_PAGE)
        abort();
    *memory = shm[page];
    return SQLITE_OK;
}

static int cut_shm_lock(sqlite3_file *file, int offset, int n, int flags)
{
    (void)file;
    (void)offset;
    (void)n;
    (void)flags;
    return SQLITE_OK;
}

static void cut_shm_barrier(sqlite3_file *file)
{
    (void)file;
}

static int cut_shm_unmap(sqlite3_file *file, int and_delete)
{
    (void)file;
    if (and_delete)
        memset(shm, 0, sizeof shm);
    return SQLITE_OK;
}

static const sqlite3_io_methods methods = {
    .iVersion = 2,
    .xClose = cut_close,
    .xRead = cut_read,
    .xWrite = cut_write,
    .xTruncate = cut_truncate,
    .xSync = cut_sync,
    .xFileSize = cut_file_size,
    .xLock = cut_lock,
    .xUnlock = cut_lock,
    .xCheckReservedLock = cut_check_lock,
    .xFileControl = cut_control,
    .xSectorSize = cut_sector_size,
    .xDeviceCharacteristics = cut_characteristics,
    .xShmMap = cut_shm_map,
    .xShmLock = cut_shm_lock,
    .xShmBarrier = cut_shm_barrier,
    .xShmUnmap = cut_shm_unmap,
};

/* ---- the VFS ----------------------------------------------------------------------------------------------- */

static int create(struct node *node, int flags)
{
    int rc = begin(CUT_CREATE);
    if (rc != SQLITE_OK)
        return rc == SQLITE_IOERR ? SQLITE_CANTOPEN : rc;
    node->there = true;
    node->sync_folder = (flags & (SQLITE_OPEN_WAL | SQLITE_OPEN_MAIN_JOURNAL)) != 0;
    if (node->stable.size != 0 || node->n_pending != 0)
        remember(node, NULL, 0, 0); /* an older file of that name may still be on the disk */
    resize(&node->seen, 0);
    return is_off ? SQLITE_CANTOPEN : SQLITE_OK;
}

static int cut_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out_flags)
{
    (void)vfs;
    file->pMethods = NULL;
    if (is_off || name == NULL) /* the book has no use for files without a name */
        return SQLITE_CANTOPEN;
    struct node *node = find_or_make(name);
    if (!node->there) {
        int rc = flags & SQLITE_OPEN_CREATE ? create(node, flags) : SQLITE_CANTOPEN;
        if (rc != SQLITE_OK)
            return rc;
    }
    ((struct cut_file *)file)->node = node;
    file->pMethods = &methods;
    if (out_flags != NULL)
        *out_flags = read_only ? (flags & ~SQLITE_OPEN_READWRITE) | SQLITE_OPEN_READONLY : flags;
    return SQLITE_OK;
}

static int cut_delete(sqlite3_vfs *vfs, const char *name, int sync_folder)
{
    (void)vfs;
    struct node *node = find(name);
    if (node == NULL || !node->there)
        return is_off ? SQLITE_IOERR_DELETE : SQLITE_IOERR_DELETE_NOENT;
    int rc = begin(CUT_DELETE);
    if (rc != SQLITE_OK)
        return rc;
    node->there = false;
    if (sync_folder && !is_off)
        folder_sync();
    return answer();
}

static int cut_access(sqlite3_vfs *vfs, const char *name, int flags, int *out)
{
    (void)vfs;
    (void)flags;
    const struct node *node = find(name);
    *out = node != NULL && node->there;
    return answer() == SQLITE_OK ? SQLITE_OK : SQLITE_IOERR_ACCESS;
}

static int cut_full_path(sqlite3_vfs *vfs, const char *name, int size, char *out)
{
    (void)vfs;
    snprintf(out, (size_t)size, "%s", name);
    return SQLITE_OK;
}

void cut_install(void)
{
    static sqlite3_vfs vfs;
    const sqlite3_vfs *clock = sqlite3_vfs_find(NULL);
    vfs = (sqlite3_vfs){
        .iVersion = 2,
        .szOsFile = sizeof(struct cut_file),
        .mxPathname = 150,
        .zName = "cut",
        .xOpen = cut_open,
        .xDelete = cut_delete,
        .xAccess = cut_access,
        .xFullPathname = cut_full_path,
        .xRandomness = clock->xRandomness,
        .xSleep = clock->xSleep,
        .xCurrentTime = clock->xCurrentTime,
        .xCurrentTimeInt64 = clock->xCurrentTimeInt64,
        .xGetLastError = clock->xGetLastError,
    };
    if (sqlite3_vfs_register(&vfs, 1) != SQLITE_OK)
        abort();
}

/* ---- copies and damage ------------------------------------------------------------------------------------- */

void cut_save(void)
{
    for (int i = 0; i < FILES_MAX; i++) {
        memcpy(saved_name[i], disk[i].name, sizeof saved_name[i]);
        if (!disk[i].there)
            saved_name[i][0] = 0;
        copy(&saved[i], &disk[i].seen);
    }
}

void cut_restore(void)
{
    cut_format();
    for (int i = 0; i < FILES_MAX; i++) {
        if (saved_name[i][0] == 0)
            continue;
        struct node *node = find_or_make(saved_name[i]);
        node->there = node->there_stable = true;
        copy(&node->seen, &saved[i]);
        copy(&node->stable, &saved[i]);
    }
}

static struct node *ending(const char *end)
{
    for (int i = 0; i < FILES_MAX; i++) {
        size_t n = strlen(disk[i].name), m = strlen(end);
        if (disk[i].there && n >= m && strcmp(disk[i].name + n - m, end) == 0)
            return &disk[i];
    }
    return NULL;
}

size_t cut_size(const char *end)
{
    const struct node *node = ending(end);
    return node != NULL ? node->seen.size : 0;
}

const unsigned char *cut_bytes(const char *end)
{
    const struct node *node = ending(end);
    return node != NULL ? node->seen.at : NULL;
}

void cut_flip(const char *end, size_t at, unsigned char mask)
{
    struct node *node = ending(end);
    if (node == NULL || at >= node->seen.size)
        abort();
    node->seen.at[at] ^= mask;
    node->stable.at[at] ^= mask;
}

void cut_shorten(const char *end, size_t size)
{
    struct node *node = ending(end);
    if (node == NULL || size > node->seen.size)
        abort();
    resize(&node->seen, size);
    resize(&node->stable, size);
}

void cut_put(const char *end, size_t at, const unsigned char *bytes, size_t n)
{
    struct node *node = ending(end);
    if (node == NULL || at + n > node->seen.size)
        abort();
    put(&node->seen, at, bytes, n);
    put(&node->stable, at, bytes, n);
}

void cut_protect(bool on)
{
    read_only = on;
}

void cut_remove(const char *end)
{
    struct node *node = ending(end);
    if (node == NULL)
        abort();
    node->there = node->there_stable = false;
    resize(&node->seen, 0);
    resize(&node->stable, 0);
}
