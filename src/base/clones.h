/* Inner loops compiled twice: for processors with 256-bit vectors, and for any other. */
#ifndef PP_BASE_CLONES_H
#define PP_BASE_CLONES_H

/* Before a function whose loops take element by element (no sum over the loop): the same operations
 * in the same order, so both give the same bits; AVX2 alone does not fuse a product with a sum.
 * Not under sanitizers, which are not up yet when the loader chooses. */
#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && defined(__gnu_linux__) &&   \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define PP_VECTOR_CLONES __attribute__((target_clones("avx2", "default")))
#else
#define PP_VECTOR_CLONES
#endif

#endif
