#pragma once

// Marks a function whose loops gain from wider registers: compiled twice where the compiler can choose at start-up. The
// sums are written so that both give the same digits.
#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && defined(__linux__) && \
    !defined(__SANITIZE_ADDRESS__)
#define BILANCETTA_VECTORISED __attribute__((target_clones("avx2", "default")))
#else
#define BILANCETTA_VECTORISED
#endif
