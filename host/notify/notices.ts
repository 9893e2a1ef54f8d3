// Where the notices of a recording go: to a web address, to the desktop, or both.

import type { Time } from '../contract/time.ts';
import { DesktopNotices } from './desktop.ts';
import type { DesktopCommand } from './desktop.ts';
import type { NoticeSettings } from './settings.ts';
import { Webhook } from './webhook.ts';
import type { NotifyEvent, WebhookTimes } from './webhook.ts';

export interface Notices {
  /** Returns at once. */
  tell(event: NotifyEvent): void;
  /** Waits for what is on its way, but no longer than `most_ms`. */
  close(most_ms: number): Promise<void>;
}

/**
 * @param desktop what shows notices here, or why nothing does
 * @param onTrouble told what could not be told, in one sentence
 * @returns null where nothing is to be told
 */
export function openNotices(
  settings: Pick<NoticeSettings, 'url' | 'desktop'>,
  desktop: DesktopCommand | string,
  onTrouble: (text: string) => void,
  time: Time,
  times?: WebhookTimes,
): Notices | null {
  const hook = settings.url === null ? null : new Webhook(settings.url, onTrouble, time, times);
  if (settings.desktop && typeof desktop === 'string')
    onTrouble(`notices cannot be shown on this desktop (${desktop})`);
  const screen = settings.desktop && typeof desktop !== 'string' ? new DesktopNotices(desktop, onTrouble) : null;
  if (hook === null && screen === null) return null;
  return {
    tell(event) {
      hook?.tell(event);
      screen?.tell(event);
    },
    close: async (most_ms) => void (await Promise.all([hook?.close(most_ms), screen?.close()])),
  };
}
