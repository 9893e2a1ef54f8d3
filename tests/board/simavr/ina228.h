/*
 * An INA228 without noise or error for the harness: the registers that the
 * firmware uses, conversion times, ALERT. Source: data sheet SLYS021A, section
 * 7.6. Written apart from the emulator's, so that one checks the other.
 */
#ifndef INA228_H
#define INA228_H

#include <stdbool.h>
#include <stdint.h>

struct ina228 {
    uint16_t config, adc_config, diag_alrt;
    int32_t vshunt, vbus, dietemp;
    uint8_t pointer, written[3], reply[3];
    int written_count, reply_at;
    double start_s; /* of the conversion under way */
    double (*charge_mC)(double t_s);
};

void ina228_power_on(struct ina228 *chip, double now_s);
/* Length of the round under way, seconds; 0 where nothing converts. */
double ina228_round_s(const struct ina228 *chip);
/* The end of a round; true where ALERT falls. */
bool ina228_end_round(struct ina228 *chip, double now_s);
/* A start with this chip's address; true where DIAG_ALRT is read. */
bool ina228_begin(struct ina228 *chip, bool reading);
/* A byte from the master; true where it restarts the conversion. */
bool ina228_write(struct ina228 *chip, uint8_t byte, double now_s);
uint8_t ina228_read(struct ina228 *chip);

#endif
