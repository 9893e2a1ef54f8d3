// A session in a variable, for tests that tell it one event after another.
import { reduceSession, startSession } from '../../../host/bay/session/session.ts';
import { treeOf } from '../../../host/bay/session/session-state.ts';
import type { SessionEvent, Session } from '../../../host/bay/session/session-state.ts';
import { viewSession } from '../../../host/bay/session/session-view.ts';
import type { SessionView } from '../../../host/bay/session/session-view.ts';
import type { FeedTree } from '../../../host/bay/tree/tree.ts';

export class HeldSession {
  constructor(public state: Session) {}

  static start(...start: Parameters<typeof startSession>): HeldSession {
    return new HeldSession(startSession(...start));
  }

  /** As it is gone on with from the text that was kept of it. */
  static resume(text: string): HeldSession {
    const session = new HeldSession(JSON.parse(text) as Session);
    session.take({ kind: 'resumed', t_s: 0 });
    return session;
  }

  toJSON(): string {
    return JSON.stringify(this.state);
  }

  get tree(): FeedTree {
    return treeOf(this.state);
  }

  get view(): SessionView {
    return viewSession(this.state);
  }

  take(event: SessionEvent): void {
    this.state = reduceSession(this.state, event);
  }
}
