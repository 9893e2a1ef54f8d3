// Which captures the shelf shows: the newest, as the page knows them, or what the server
// finds by the words typed, and as many as were asked for.

import type { CaptureSummary } from '../host/contract/api.ts';
import { askList, wordsOf } from './ask.ts';

/** As many as the server lists unasked (library.ts), and at most (api.ts). */
const LISTED = 200;
const LISTED_MAX = 1000;
/** Typing goes on within this: one question for a word, not for each letter. */
const TYPED_MS = 150;

export interface Found {
  captures: readonly CaptureSummary[];
  /** How many there are of them; null: not known better than by counting these. */
  found: number | null;
  /** Words were searched for. */
  searched: boolean;
  trouble: string | null;
}

export class Finder {
  private text = '';
  private count = LISTED;
  private asked = 0;
  private timer: ReturnType<typeof setTimeout> | undefined;

  /** @param newest what the page knows already, and how many there are in all */
  constructor(
    private readonly newest: () => { captures: readonly CaptureSummary[]; total: number },
    private readonly show: (found: Found) => void,
  ) {}

  search(text: string): void {
    this.text = text.trim();
    this.count = LISTED;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.look(), TYPED_MS);
  }

  /** Whether more of them can be shown in one list. */
  get mayShowMore(): boolean {
    return this.count < LISTED_MAX;
  }

  more(): void {
    this.count = Math.min(LISTED_MAX, this.count + LISTED);
    void this.look();
  }

  /** Looks again: the page knows more, or the shelf was opened. */
  async look(): Promise<void> {
    const own = ++this.asked;
    const searched = this.text !== '';
    const known = this.newest();
    if (!searched && (this.count === LISTED || known.total <= LISTED))
      return this.show({ captures: known.captures, found: known.total, searched, trouble: null });
    try {
      const { captures, found } = await askList({ search: this.text, count: this.count });
      // A later question overtakes an earlier one.
      if (own === this.asked) this.show({ captures, found, searched, trouble: null });
    } catch (error) {
      if (own === this.asked) this.show({ captures: [], found: null, searched, trouble: wordsOf(error) });
    }
  }
}
