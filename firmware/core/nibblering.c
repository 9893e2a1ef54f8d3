/*
 * Records of short numbers in a ring: see nibblering.h.
 */
#include "nibblering.h"

#define MORE 8
#define BITS 3

static void put(struct nibblering *ring, uint8_t nibble)
{
    while (ring->used == ring->size)
        ring->evict(ring);
    uint8_t *byte = &ring->bytes[ring->head >> 1];
    if (ring->head & 1)
        *byte = (*byte & 0x0F) | (uint8_t)(nibble << 4);
    else
        *byte = (*byte & 0xF0) | nibble;
    if (++ring->head == ring->size)
        ring->head = 0;
    ring->used++;
}

static uint8_t get(const struct nibblering *ring, uint16_t *at)
{
    uint8_t byte = ring->bytes[*at >> 1];
    if (*at & 1)
        byte >>= 4;
    if (++*at == ring->size)
        *at = 0;
    return byte & 0x0F;
}

void nibblering_free(struct nibblering *ring, uint16_t at)
{
    uint16_t freed = at > ring->tail ? (uint16_t)(at - ring->tail) : (uint16_t)(at + ring->size - ring->tail);
    ring->used = (uint16_t)(ring->used - freed);
    ring->tail = at;
}

void nibblering_put_u32(struct nibblering *ring, uint32_t value)
{
    for (; value >= MORE; value >>= BITS)
        put(ring, (uint8_t)(value & (MORE - 1)) | MORE);
    put(ring, (uint8_t)value);
}

void nibblering_put_s32(struct nibblering *ring, int32_t value)
{
    uint32_t folded = (uint32_t)value << 1;
    nibblering_put_u32(ring, value < 0 ? ~folded : folded);
}

void nibblering_put_u64(struct nibblering *ring, uint64_t value)
{
    nibblering_put_u32(ring, (uint32_t)value);
    nibblering_put_s32(ring, (int32_t)(uint32_t)(value >> 32));
}

uint32_t nibblering_get_u32(const struct nibblering *ring, uint16_t *at)
{
    uint32_t value = 0;
    uint8_t shift = 0, nibble;
    do {
        nibble = get(ring, at);
        value |= (uint32_t)(nibble & (MORE - 1)) << shift;
        shift = (uint8_t)(shift + BITS);
    } while (nibble & MORE);
    return value;
}

int32_t nibblering_get_s32(const struct nibblering *ring, uint16_t *at)
{
    uint32_t folded = nibblering_get_u32(ring, at);
    uint32_t half = folded >> 1;
    return (int32_t)(folded & 1 ? ~half : half);
}

uint64_t nibblering_get_u64(const struct nibblering *ring, uint16_t *at)
{
    uint32_t low = nibblering_get_u32(ring, at);
    return ((uint64_t)(uint32_t)nibblering_get_s32(ring, at) << 32) | low;
}
