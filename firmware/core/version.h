/*
 * The firmware's version: this is its one place.
 */
#ifndef CORE_VERSION_H
#define CORE_VERSION_H

#define FIRMWARE_VERSION "0.4.0"
/* Of PROTOCOL.md. */
#define PROTOCOL_VERSION 1

#endif
