// Bytes as text: five letters for four bytes, a sixteenth less than base64 takes.

/** Letters of Python's base64.b85encode, with ",./" for "&<>", as climwin.page.live writes them. */
const LETTERS =
  "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz!#$%,()*+-;.=/?@^_`{|}~";
const VALUES = new Map([...LETTERS].map((letter, value) => [letter, value]));

/** The bytes of such a text; the last group may be short. */
export function fromBase85(text) {
  const missing = (5 - (text.length % 5)) % 5;
  const whole = text + "~".repeat(missing);
  const words = new DataView(new ArrayBuffer((whole.length / 5) * 4));
  for (let i = 0; i < whole.length; i += 5) {
    const letters = [...whole.slice(i, i + 5)];
    words.setUint32(
      (i / 5) * 4,
      letters.reduce((sum, letter) => 85 * sum + VALUES.get(letter), 0),
    );
  }
  return new Uint8Array(words.buffer, 0, words.byteLength - missing);
}
