// A request that cannot be answered, with the status and the words for it.

export class RequestProblem extends Error {
  readonly status: number;
  readonly code: string;

  /**
   * @param status HTTP status
   * @param code one word for programs
   * @param message one sentence for people: the value, the limit, the next step
   * @param complaints where several things were sent, what is wrong with which, from 0
   */
  constructor(
    status: number,
    code: string,
    message: string,
    readonly complaints?: readonly { at: number; text: string }[],
  ) {
    super(message);
    this.status = status;
    this.code = code;
  }
}

/** The asker has gone, so that the answer was not worked out. Nobody reads this. */
export class NobodyWaits extends RequestProblem {
  constructor() {
    super(503, 'nobody-waits', 'Nobody waits for this answer any more.');
  }
}
