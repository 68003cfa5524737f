/* face_count_malloc: preloaded (LD_PRELOAD), counts every allocation of a process. The test host asks for
 * the count when it reports. glibc's own names for its allocator are used, so that nothing has to be looked
 * up. */
#include <errno.h>
#include <stddef.h>

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t n, size_t size);
void *__libc_realloc(void *at, size_t size);
void *__libc_memalign(size_t alignment, size_t size);

void *malloc(size_t size);
void *calloc(size_t n, size_t size);
void *realloc(void *at, size_t size);
int posix_memalign(void **at, size_t alignment, size_t size);
void *aligned_alloc(size_t alignment, size_t size);
unsigned long face_counted_allocations(void);

static unsigned long counted;

unsigned long face_counted_allocations(void)
{
    return __atomic_load_n(&counted, __ATOMIC_RELAXED);
}

static void count(void)
{
    __atomic_fetch_add(&counted, 1, __ATOMIC_RELAXED);
}

void *malloc(size_t size)
{
    count();
    return __libc_malloc(size);
}

void *calloc(size_t n, size_t size)
{
    count();
    return __libc_calloc(n, size);
}

void *realloc(void *at, size_t size)
{
    count();
    return __libc_realloc(at, size);
}

int posix_memalign(void **at, size_t alignment, size_t size)
{
    count();
    *at = __libc_memalign(alignment, size);
    return *at != NULL ? 0 : ENOMEM;
}

void *aligned_alloc(size_t alignment, size_t size)
{
    count();
    return __libc_memalign(alignment, size);
}
