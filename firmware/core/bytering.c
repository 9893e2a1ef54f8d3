/*
 * Records of short numbers in a ring: see bytering.h.
 */
#include "bytering.h"

void bytering_put(struct bytering *ring, uint8_t byte)
{
    while (ring->used == ring->size)
        ring->evict(ring);
    ring->bytes[ring->head++] = byte;
    if (ring->head == ring->size)
        ring->head = 0;
    ring->used++;
}

uint8_t bytering_get(const struct bytering *ring, uint16_t *at)
{
    uint8_t byte = ring->bytes[(*at)++];
    if (*at == ring->size)
        *at = 0;
    return byte;
}

void bytering_free(struct bytering *ring, uint16_t at)
{
    uint16_t freed = at > ring->tail ? (uint16_t)(at - ring->tail) : (uint16_t)(at + ring->size - ring->tail);
    ring->used = (uint16_t)(ring->used - freed);
    ring->tail = at;
}

void bytering_put_u32(struct bytering *ring, uint32_t value)
{
    for (; value >= 0x80; value >>= 7)
        bytering_put(ring, (uint8_t)value | 0x80);
    bytering_put(ring, (uint8_t)value);
}

void bytering_put_s32(struct bytering *ring, int32_t value)
{
    uint32_t folded = (uint32_t)value << 1;
    bytering_put_u32(ring, value < 0 ? ~folded : folded);
}

void bytering_put_u64(struct bytering *ring, uint64_t value)
{
    bytering_put_u32(ring, (uint32_t)value);
    bytering_put_s32(ring, (int32_t)(uint32_t)(value >> 32));
}

uint32_t bytering_get_u32(const struct bytering *ring, uint16_t *at)
{
    uint32_t value = 0;
    uint8_t shift = 0, byte;
    do {
        byte = bytering_get(ring, at);
        value |= (uint32_t)(byte & 0x7F) << shift;
        shift = (uint8_t)(shift + 7);
    } while (byte & 0x80);
    return value;
}

int32_t bytering_get_s32(const struct bytering *ring, uint16_t *at)
{
    uint32_t folded = bytering_get_u32(ring, at);
    uint32_t half = folded >> 1;
    return (int32_t)(folded & 1 ? ~half : half);
}

uint64_t bytering_get_u64(const struct bytering *ring, uint16_t *at)
{
    uint32_t low = bytering_get_u32(ring, at);
    return ((uint64_t)(uint32_t)bytering_get_s32(ring, at) << 32) | low;
}
