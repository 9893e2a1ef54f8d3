/*
 * Writes one line of PROTOCOL.md, field by field, straight into the transmit
 * ring, with its check code.
 */
#ifndef CORE_LINE_H
#define CORE_LINE_H

#include "txring.h"
#include <stdbool.h>
#include <stdint.h>

/* The longest line of PROTOCOL.md, LF included. */
#define LINE_BYTES_MAX 240

struct line {
    struct txring *ring;
    uint32_t crc;
};

void line_begin(struct line *line, struct txring *ring, char type);
/* Each field writes the space before it. Numbers: hexadecimal, no leading zeros, "-" in front. */
void line_u32(struct line *line, uint32_t value);
void line_u64(struct line *line, uint64_t value);
void line_s32(struct line *line, int32_t value);
void line_s64(struct line *line, int64_t value);
/* `word` lies in flash (FLASH_WORD). */
void line_word(struct line *line, const char *word);
/* " key=", then one of the values below. `key` lies in flash. */
void line_key(struct line *line, const char *key);
void line_value_u32(struct line *line, uint32_t value);
void line_value_s32(struct line *line, int32_t value);
void line_value_word(struct line *line, const char *word);
/* Publishes what there is of a line that goes in parts; `line` is kept until its end. The caller has asked for room. */
void line_part(struct line *line);
/* The n-th of words that follow each other in flash, a zero byte behind each. */
const char *line_nth_word(const char *words, uint8_t n);
/* Adds the check code and the LF. False where the line did not fit and was taken back whole. */
bool line_end(struct line *line);

#endif
