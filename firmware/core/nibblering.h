/*
 * A ring of half bytes that holds records of numbers, each as short as it can
 * be: three bits a half byte, the lowest first, bit 3 set on all but the last;
 * signed ones folded so that small sizes are short. A record that needs room
 * has the oldest one taken out, whole, by the owner's `evict`.
 */
#ifndef CORE_NIBBLERING_H
#define CORE_NIBBLERING_H

#include <stdint.h>

/* Counts and places are in half bytes. */
struct nibblering {
    uint8_t *bytes;
    /* Takes the oldest record out. Called only while the ring is full. */
    void (*evict)(struct nibblering *ring);
    uint16_t size; /* at least two records long */
    uint16_t head; /* next place to fill */
    uint16_t tail; /* where the oldest record begins */
    uint16_t used;
};

void nibblering_put_u32(struct nibblering *ring, uint32_t value);
void nibblering_put_s32(struct nibblering *ring, int32_t value);
/* As its lower half and its upper one with a sign, which is mostly 0 or -1, and takes a half byte. */
void nibblering_put_u64(struct nibblering *ring, uint64_t value);
/* Each reads at `*at` and moves it on. */
uint32_t nibblering_get_u32(const struct nibblering *ring, uint16_t *at);
int32_t nibblering_get_s32(const struct nibblering *ring, uint16_t *at);
uint64_t nibblering_get_u64(const struct nibblering *ring, uint16_t *at);
/* Frees what lies before `at`. */
void nibblering_free(struct nibblering *ring, uint16_t at);

#endif
