// Sends what is kept as soon as the back end answers. The service keeps nothing, and an answer is a function of the
// visit alone: so the whole visit goes each time, and sending again is always safe.

const FIRST_WAIT = 1000;
const LONGEST_WAIT = 20000;
const PATIENCE = 20000;

/**
 * @param work gives the next thing to send, `{path, visit, done(response), refused(marks)}`, or null
 * @param told called with "sent", "sending" or "waiting"
 * @returns a function to call whenever there is something to send
 */
export function sender(work, told) {
  let busy = false;
  let again = false;
  let wait = FIRST_WAIT;
  let timer = 0;

  async function send(item) {
    const response = await fetch(item.path, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(item.visit),
      signal: AbortSignal.timeout(PATIENCE),
    });
    if (response.status === 422) await item.refused((await response.json()).marks);
    else if (response.ok) await item.done(response);
    else throw new Error(`status ${response.status}`);
  }

  async function pump() {
    clearTimeout(timer);
    again = busy;
    if (busy) return;
    busy = true;
    try {
      for (let item = work(); item; item = work()) {
        told("sending");
        await send(item);
        wait = FIRST_WAIT;
      }
      told("sent");
    } catch {
      // No coverage, no service, or no answer in time: all of it stays here, and is tried again.
      told("waiting");
      timer = setTimeout(pump, wait);
      wait = Math.min(2 * wait, LONGEST_WAIT);
    } finally {
      busy = false;
      if (again) {
        again = false;
        pump();
      }
    }
  }

  addEventListener("online", () => pump());
  document.addEventListener("visibilitychange", () => document.hidden || pump());
  return pump;
}
