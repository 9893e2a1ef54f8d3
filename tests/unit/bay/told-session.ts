// A session that writes down what it was told, so that the same can be told elsewhere: in
// whole microamperes, as a board tells it, with the sentence that was asked at each deed.
import { startSession } from '../../../host/bay/session/session.ts';
import type { SessionEvent } from '../../../host/bay/session/session-state.ts';
import type { BayAction } from '../../../host/contract/api.ts';
import { HeldSession } from './held-session.ts';

export type Told = { kind: 'reading'; t_s: number; mean_uA: number } | { kind: 'deed'; action: BayAction };

export class ToldSession extends HeldSession {
  readonly told: Told[] = [];

  static override start(treeText: string): ToldSession {
    const session = new ToldSession(startSession(treeText));
    // As the work does it that this is told to.
    HeldSession.prototype.take.call(session, { kind: 'prepared', t_s: 0 });
    return session;
  }

  override take(event: SessionEvent): void {
    if (event.kind === 'reading') {
      const mean_uA = Math.round(event.mean_mA * 1000);
      this.told.push({ kind: 'reading', t_s: event.t_s, mean_uA });
      return super.take({ ...event, mean_mA: mean_uA / 1000 });
    }
    this.told.push({ kind: 'deed', action: this.actionOf(event) });
    super.take(event);
  }

  private actionOf(event: SessionEvent): BayAction {
    const asked = this.view.headline;
    const name = (node: number) => this.tree.nodes[node]!.name;
    switch (event.kind) {
      case 'tap':
        return { do: 'tap', asked };
      case 'answer':
        return { do: event.yes ? 'yes' : 'no', asked };
      case 'drop':
        return { do: 'drop', name: name(event.node), drop_mV: event.drop_mV, asked };
      case 'did':
        return { do: 'did', what: event.what, name: name(event.node) };
      case 'stop':
        return { do: 'give-up', asked };
      default:
        throw new Error(`a simulated hand does no ${event.kind}`);
    }
  }
}
