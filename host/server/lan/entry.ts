// Who may come in from the local network: whoever scanned the code. Its token is good
// once; it is exchanged for a cookie, which is good for this run of the server.

import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';
import { ADDRESSES_MAX, DEVICES_MAX, SPENT_MAX, WRONG_MAX } from '../../contract/limits.ts';
import { RequestProblem } from '../problem.ts';

export const COOKIE = 'nightdraw';

/** A night and the day after it. */
const GOOD_FOR_MS = 24 * 3600_000;

const WRONG_WITHIN_MS = 60_000;

/** 128 bits as 22 letters that an address may hold. */
const secret = () => randomBytes(16).toString('base64url');

/** Of equal length for whatever was sent, so that comparing them takes the same time. */
const digest = (text: string) => createHash('sha256').update(text).digest();

const OURS = /(?:^|;\s*)nightdraw=([\w-]{1,64})(?:;|$)/;

/** Whether a Cookie header holds one by the name of ours, good or not. */
export const carriesCookie = (header: string | undefined): boolean => OURS.test(header ?? '');

export class Entry {
  private token = secret();
  /** Codes of before, the newest last: who scans one is told what became of it. */
  private spent: { digest: Buffer; used: boolean }[] = [];
  private devices: { digest: Buffer; since_ms: number }[] = [];
  /** Times of wrong tokens by the address that they came from. */
  private readonly wrong_ms = new Map<string, number[]>();

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
    this.put(false);
  }

  private put(used: boolean): void {
    this.spent = [...this.spent, { digest: digest(this.token), used }].slice(-SPENT_MAX);
    this.token = secret();
  }

  /** Why a token is not the one that is good now. An old one is worth nothing, so that telling helps nobody. */
  private whyNot(given: Buffer): string {
    const old = this.spent.find((one) => timingSafeEqual(given, one.digest));
    if (old === undefined)
      return 'This is no code of this run of nightdraw: it was started again since, or the code was not read whole.';
    return old.used
      ? 'This code was used already: each lets one device in.'
      : 'This code is no longer good: another one was made since.';
  }

  /**
   * Takes the token for a cookie's value; the next device needs the next token. The right one
   * is taken whatever came before it.
   * @param address where it came from
   * @throws RequestProblem 401 for a wrong one, 429 after too many from that address
   */
  enter(token: string, address: string): string {
    const now_ms = this.now_ms();
    const given = digest(token);
    if (!timingSafeEqual(given, digest(this.token))) {
      if (this.wrongAgain(address, now_ms))
        throw new RequestProblem(429, 'too-many', 'Too many wrong codes; scan the one that the computer shows now.');
      throw new RequestProblem(401, 'wrong-code', `${this.whyNot(given)} Scan the one that the computer shows now.`);
    }
    this.put(true);
    const cookie = secret();
    this.devices.push({ digest: digest(cookie), since_ms: now_ms });
    if (this.devices.length > DEVICES_MAX) this.devices.shift();
    return cookie;
  }

  /** Counts a wrong token; whether that address sent too many within a minute. */
  private wrongAgain(address: string, now_ms: number): boolean {
    const recent = (this.wrong_ms.get(address) ?? []).filter((at_ms) => now_ms - at_ms < WRONG_WITHIN_MS);
    const tooMany = recent.length >= WRONG_MAX;
    // The newest last, so that what gives way is the address that was quiet for longest.
    this.wrong_ms.delete(address);
    this.wrong_ms.set(address, tooMany ? recent : [...recent, now_ms]);
    const [oldest] = this.wrong_ms.keys();
    if (this.wrong_ms.size > ADDRESSES_MAX) this.wrong_ms.delete(oldest!);
    return tooMany;
  }

  /** Whether a request's Cookie header holds one of ours. */
  knows(header: string | undefined): boolean {
    const now_ms = this.now_ms();
    this.devices = this.devices.filter(({ since_ms }) => now_ms - since_ms < GOOD_FOR_MS);
    const given = digest(OURS.exec(header ?? '')?.[1] ?? '');
    let known = false;
    // All are looked at, whether or not one has fitted.
    for (const device of this.devices) known = timingSafeEqual(given, device.digest) || known;
    return known;
  }
}

/** Not `Secure`: the server speaks plain HTTP. Strict: no other site's page sends it. */
export const setCookie = (value: string): string =>
  `${COOKIE}=${value}; Path=/; Max-Age=${GOOD_FOR_MS / 1000}; HttpOnly; SameSite=Strict`;
