// Who may come in from the local network: whoever scanned the code. Its token is good
// once; it is exchanged for a cookie, which is good for this run of the server.

import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';
import { RequestProblem } from '../problem.ts';

export const COOKIE = 'nightdraw';

/** A night and the day after it. */
const GOOD_FOR_MS = 24 * 3600_000;

/** Devices that are in at a time; the one longest in gives way. */
const DEVICES_MAX = 32;

/** Wrong tokens in a minute, from all devices together, until none is looked at for the rest of it: 128 bits are not to be guessed. */
const WRONG_MAX = 10;
const WRONG_WITHIN_MS = 60_000;

/** 128 bits as 22 letters that an address may hold. */
const secret = () => randomBytes(16).toString('base64url');

/** Of equal length for whatever was sent, so that comparing them takes the same time. */
const digest = (text: string) => createHash('sha256').update(text).digest();

export class Entry {
  private token = secret();
  private devices: { digest: Buffer; since_ms: number }[] = [];
  private wrong_ms: number[] = [];

  /** @param now_ms a clock that only moves forward */
  constructor(private readonly now_ms: () => number) {}

  /** What the code holds at the moment. */
  get code(): string {
    return this.token;
  }

  get deviceCount(): number {
    return this.devices.length;
  }

  /** Makes the code worthless that was shown until now. */
  renew(): void {
    this.token = secret();
  }

  /**
   * Takes the token for a cookie's value; the next device needs the next token.
   * @throws RequestProblem 401 for a wrong one, 429 after too many
   */
  enter(token: string): string {
    const now_ms = this.now_ms();
    this.wrong_ms = this.wrong_ms.filter((at_ms) => now_ms - at_ms < WRONG_WITHIN_MS);
    if (this.wrong_ms.length >= WRONG_MAX) throw new RequestProblem(429, 'too-many', 'Too many wrong codes; wait a minute, then scan the code again.');
    if (!timingSafeEqual(digest(token), digest(this.token))) {
      this.wrong_ms.push(now_ms);
      throw new RequestProblem(401, 'wrong-code', 'This code was used already or is an old one; scan the one that the computer shows now.');
    }
    this.renew();
    const cookie = secret();
    this.devices.push({ digest: digest(cookie), since_ms: now_ms });
    if (this.devices.length > DEVICES_MAX) this.devices.shift();
    return cookie;
  }

  /** Whether a request's Cookie header holds one of ours. */
  knows(header: string | undefined): boolean {
    const now_ms = this.now_ms();
    this.devices = this.devices.filter(({ since_ms }) => now_ms - since_ms < GOOD_FOR_MS);
    const value = /(?:^|;\s*)nightdraw=([\w-]{1,64})(?:;|$)/.exec(header ?? '')?.[1] ?? '';
    const given = digest(value);
    let known = false;
    // All are looked at, whether or not one has fitted.
    for (const device of this.devices) known = timingSafeEqual(given, device.digest) || known;
    return known;
  }
}

/** Not `Secure`: the server speaks plain HTTP. Strict: no other site's page sends it. */
export const setCookie = (value: string): string => `${COOKIE}=${value}; Path=/; Max-Age=${GOOD_FOR_MS / 1000}; HttpOnly; SameSite=Strict`;
