/*
 * A ring of bytes that holds records of numbers, each as short as it can be:
 * seven bits a byte, the lowest first, bit 7 set on all but the last; signed
 * ones folded so that small sizes are short. A record that needs room has the
 * oldest one taken out, whole, by the owner's `evict`.
 */
#ifndef CORE_BYTERING_H
#define CORE_BYTERING_H

#include <stdint.h>

struct bytering {
    uint8_t *bytes;
    /* Takes the oldest record out. Called only while the ring is full. */
    void (*evict)(struct bytering *ring);
    uint16_t size; /* at least two records long */
    uint16_t head; /* next place to fill */
    uint16_t tail; /* first byte of the oldest record */
    uint16_t used;
};

void bytering_put(struct bytering *ring, uint8_t byte);
void bytering_put_u32(struct bytering *ring, uint32_t value);
void bytering_put_s32(struct bytering *ring, int32_t value);
/* As its lower half and its upper one with a sign, which is mostly 0 or -1, and takes a byte. */
void bytering_put_u64(struct bytering *ring, uint64_t value);
/* Each reads at `*at` and moves it on. */
uint8_t bytering_get(const struct bytering *ring, uint16_t *at);
uint32_t bytering_get_u32(const struct bytering *ring, uint16_t *at);
int32_t bytering_get_s32(const struct bytering *ring, uint16_t *at);
uint64_t bytering_get_u64(const struct bytering *ring, uint16_t *at);
/* Frees what lies before `at`. */
void bytering_free(struct bytering *ring, uint16_t at);

#endif
