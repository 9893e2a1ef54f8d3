// What a workshop's file says of notices. It stands in that file alone: an address that
// could be set through the page would let anybody in the network have this computer call it.

export interface NoticeSettings {
  /** Web address that is told, null for none. */
  url: string | null;
  /** Whether notices show on this computer's desktop. */
  desktop: boolean;
  /** Battery voltage that is told at and below. */
  below_V: number;
}

export const NOTICE_KEYS = ['notify_url', 'notify_desktop', 'notify_below_V'] as const;

const VOLTS_MAX = 60;

export const isWebAddress = (text: unknown): text is string =>
  typeof text === 'string' && /^https?:\/\/./i.test(text) && URL.canParse(text);

/**
 * @param below_V where the file does not say
 * @throws Error in one sentence naming key, value and what would do
 */
export function readNotices(value: Readonly<Record<string, unknown>>, below_V: number): NoticeSettings {
  const { notify_url: url = null, notify_desktop: desktop = false, notify_below_V: volts = below_V } = value;
  if (url !== null && !isWebAddress(url))
    throw new Error(
      `notify_url ${JSON.stringify(url)} is no web address; for example "http://192.168.1.5:8080/nightdraw"`,
    );
  if (typeof desktop !== 'boolean')
    throw new Error(`notify_desktop ${JSON.stringify(desktop)} is neither true nor false`);
  if (typeof volts !== 'number' || !(volts >= 0 && volts <= VOLTS_MAX))
    throw new Error(
      `notify_below_V ${JSON.stringify(volts)} is not a number from 0 to ${VOLTS_MAX}; ${below_V} is usual`,
    );
  return { url, desktop, below_V: volts };
}
