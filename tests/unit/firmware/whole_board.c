/*
 * The whole firmware on the native board: see whole_board.h.
 */
#include "whole_board.h"
#include "chip_model.h"
#include "core/app.h"
#include "core/crc32.h"
#include "drivers/ina226.h"
#include "drivers/ina228.h"
#include "test.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct sense_chip *const chips[] = {&ina228_chip, &ina226_chip};

char wire[1 << 20];
size_t wire_length;
bool wire_open;

void settle(void)
{
    uint8_t byte;
    bool more = true;
    while (more) {
        more = app_step();
        while (wire_open && app_next_byte(&byte) != BYTE_NONE) {
            wire[wire_length++] = (char)byte;
            more = true;
        }
    }
    wire[wire_length] = 0;
}

void boot(void)
{
    wire_length = 0;
    wire_open = true;
    board_init();
    app_init(chips, 2);
    settle();
}

void fresh(void)
{
    native_reset(chip_bus);
    chip_reset();
    chip_set_shunt(1280); /* 20 mA in 5 mOhm */
    chip.vbus = 63232u << 4;
    chip.dietemp = 3200;
    boot();
}

void run_us(uint32_t us)
{
    uint32_t begun = native.ticks;
    while (native.ticks - begun < us * 2) {
        if (chip.ina226)
            native.ticks += ((chip.config226 & 7) == 7 ? 1240u : 1100u) * 2;
        else
            native.ticks += (chip.adc_config >> 12 == 0xF ? 1152u : 1052u) * 2;
        if (!chip.absent && (chip.ina226 ? chip.mask226 & 0x0400 : chip.diag_alrt & 0x4000)) {
            app_on_ready(native.ticks, chip.ina226);
            native_run_bus();
        }
        settle();
    }
}

void idle_ms(uint32_t ms)
{
    for (; ms > 0; ms--) {
        native.ticks += 2000;
        native_run_bus();
        settle();
    }
}

void command(const char *body)
{
    char line[96];
    int length = snprintf(line, sizeof line - 10, "%s ", body);
    snprintf(line + length, 10, "%08" PRIX32 "\n", crc32_of((const uint8_t *)line, (uint8_t)length));
    for (const char *c = line; *c; c++)
        app_on_receive((uint8_t)*c, false, native.ticks);
}

int lines_with(const char *head)
{
    int count = 0;
    for (char *line = wire; *line;) {
        char *end = strchr(line, '\n');
        char code[9];
        assert_non_null(end);
        assert_true(end - line > 10 && end - line < 240);
        snprintf(code, sizeof code, "%08" PRIX32, crc32_of((const uint8_t *)line, (uint8_t)(end - line - 8)));
        assert_memory_equal(end - 8, code, 8);
        count += strncmp(line, head, strlen(head)) == 0;
        line = end + 1;
    }
    return count;
}

struct numbers line_numbers(const char *type, int n)
{
    struct numbers numbers = {{0}, 0};
    for (char *line = wire; *line; line = strchr(line, '\n') + 1) {
        if (strncmp(line, type, strlen(type)) != 0 || n-- > 0)
            continue;
        char *at = line + strlen(type);
        /* The last field is the check code. */
        for (int i = 0; i < 20 && *at == ' ' && strchr(at + 1, ' ') && strchr(at + 1, ' ') < strchr(at, '\n'); i++) {
            numbers.at[i] = strtoll(at, &at, 16);
            numbers.count = i + 1;
        }
        return numbers;
    }
    fail_msg("no line %s number %d in:\n%s", type, n, wire);
    return numbers;
}
