/*
 * Writing of EEPROM blocks: see store_writer.h.
 */
#include "store_writer.h"
#include "../boards/board.h"

void store_writer_start(struct store_writer *writer, uint16_t address, uint8_t length)
{
    writer->address = address;
    writer->length = length;
    writer->at = 0;
    writer->state = WRITE_BUSY;
}

static enum write_state verify(const struct store_writer *writer)
{
    for (uint8_t i = 0; i < writer->length; i++)
        if (board_store_read((uint16_t)(writer->address + i)) != writer->block[i])
            return WRITE_FAILED;
    return WRITE_DONE;
}

enum write_state store_writer_step(struct store_writer *writer)
{
    if (writer->state != WRITE_BUSY || !board_store_ready())
        return writer->state;
    while (writer->at < writer->length) {
        uint16_t address = (uint16_t)(writer->address + writer->at);
        uint8_t byte = writer->block[writer->at++];
        /* A byte that stands already costs no wear and no time. */
        if (board_store_read(address) != byte) {
            board_store_write(address, byte);
            return WRITE_BUSY;
        }
    }
    writer->state = WRITE_IDLE;
    return verify(writer);
}
