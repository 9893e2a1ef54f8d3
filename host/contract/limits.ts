// What anybody may take of this server, in one place, each with its reason; THREATS.md says
// against whom. What a file may claim is in ../capture/possible.ts.

/** Connections at a time, on each address: viewers of the live stream, and three times as many questions. */
export const CONNECTIONS_MAX = 1024;

/** Questions under way on one connection. A browser has one; who has more reads no answer, and is cut off. */
export const UNDER_WAY_MAX = 8;

/**
 * Questions let in in one turn, which is some milliseconds for each: of connections that have one, and of those that
 * sent several in a row.
 */
export const CALM_AT_ONCE = 16;
export const LOUD_AT_ONCE = 4;

/** How long slow or stuck clients keep their place. */
export interface Patience {
  headers_ms: number;
  request_ms: number;
  /** How often that is looked at. */
  check_ms: number;
}

/**
 * A tablet at the end of the bay takes a second for what it asks; a program that sends a letter now and then keeps no
 * place.
 */
export const PATIENCE: Patience = { headers_ms: 10_000, request_ms: 30_000, check_ms: 2000 };

/** Of what is sent. All that anybody types is shorter by far. */
export const BODY_BYTES_MAX = 16 * 1024;

/** Text of a feed tree: some hundred rows are a few ten thousand letters. */
export const TREE_LENGTH_MAX = 100_000;
/** Of a body that may hold one; in UTF-8 and JSON a letter takes up to six bytes, most take one. */
export const TREE_BYTES_MAX = 256 * 1024;

/** Voltages that are sent at once: more than any box has fuses. */
export const READINGS_MAX = 200;

/** Bins that one overview may ask for: more than any screen has columns; such an answer is some 150 KB. */
export const BINS_MAX = 4000;

/** Captures that one answer lists: some 400 KB. */
export const LIST_MAX = 1000;

/** Cars that one answer lists, each with its newest nights: some 300 KB. */
export const CARS_MAX = 100;
export const CAR_NIGHTS_MAX = 30;

/** Analyses kept of one version of a file, each by its options: some 100 KB each. */
export const FINDINGS_KEPT_MAX = 8;

/** Files that any answer is kept of: more than one answer lists. */
export const FILES_KEPT_MAX = LIST_MAX + 200;

/** Reports that wait: more than people at one bench ask for; each will hold a whole night. */
export const REPORTS_WAITING_MAX = 8;

/** Viewers of the live stream: far more than a workshop has screens. */
export const VIEWERS_MAX = 256;
/** A viewer with so much not yet taken is behind, and gets no more until it has caught up. A picture is smaller. */
export const BEHIND_BYTES = 256 * 1024;
/** One that takes nothing for so long is let go; its page connects again by itself. */
export const STUCK_MS = 30_000;

/** Devices of the local network that are in at a time; the one longest in gives way. */
export const DEVICES_MAX = 32;
/**
 * Wrong codes in a minute from one address, until it is told to wait. For load alone: 128 bits
 * are not to be guessed, and a guest who sends wrong ones must not keep the right one out.
 */
export const WRONG_MAX = 10;
/** Addresses that are counted at a time: more than a local network of one workshop has. */
export const ADDRESSES_MAX = 1024;
/** So many codes of before are known: more than anybody has photographed. */
export const SPENT_MAX = 100;
