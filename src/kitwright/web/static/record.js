// Records taps from the microphone into the file field of a form, as WAV of 16 bits. What the phone
// would do to make speech clearer is asked to be off, since it eats the ring; what it then says it
// does is written into the file. Without a microphone the file field stays, and says why.

const LONGEST_S = 60;
const WANTED = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };

const able = window.isSecureContext && navigator.mediaDevices?.getUserMedia && window.AudioWorkletNode;

function ready(field) {
  const part = field.querySelector("[data-recorder]");
  const button = part.querySelector("[data-record]");
  if (!part.hidden) return;
  part.hidden = false;
  if (able) return;
  button.remove();
  part.querySelector(".level").textContent = window.isSecureContext
    ? "This browser lends no microphone. Record with another program, as WAV, and choose the file."
    : "No microphone here: a browser lends it to https pages only, and to the machine that serves " +
      "this one. Record with the phone's own recorder, as WAV, and choose the file.";
}

let recording;

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-record]");
  if (!button) return;
  if (recording) recording.stop();
  else start(button.closest("[data-recording]")).catch((error) => refused(button, error));
});

function refused(button, error) {
  recording = undefined;
  button.textContent = "Record";
  button.disabled = false;
  const why = { NotAllowedError: "not allowed", NotFoundError: "none found" }[error.name];
  button.parentElement.querySelector(".level").textContent =
    `No microphone: ${why ?? error.message}. Choose a file instead.`;
}

async function start(field) {
  const part = field.querySelector("[data-recorder]");
  const button = part.querySelector("[data-record]");
  const level = part.querySelector(".level");
  button.disabled = true; // until the microphone answers
  const stream = await navigator.mediaDevices.getUserMedia({ audio: { ...WANTED, channelCount: 1 } });
  const context = new AudioContext(); // at the device's own rate, whatever it is
  await context.audioWorklet.addModule(part.dataset.worklet);
  const source = context.createMediaStreamSource(stream);
  const taker = new AudioWorkletNode(context, "taken", { numberOfOutputs: 0 });
  const blocks = [];
  let [count, peak, told] = [0, 0, 0];
  taker.port.onmessage = ({ data }) => {
    blocks.push(data);
    count += data.length;
    for (const value of data) peak = Math.max(peak, Math.abs(value));
    const seconds = count / context.sampleRate;
    if (seconds - told >= 0.25) {
      const loud = peak >= 0.99 ? " Too loud: it clips." : peak < 0.02 ? " Very faint." : "";
      level.textContent = `Recording, ${seconds.toFixed(0)} s.${loud}`;
      [told, peak] = [seconds, peak >= 0.99 ? peak : 0];
    }
    if (seconds >= LONGEST_S) recording?.stop();
  };
  source.connect(taker);
  button.disabled = false;
  button.textContent = "Stop";
  level.textContent = "Recording. Tap now, and let it ring out.";
  recording = {
    stop() {
      recording = undefined;
      taker.port.onmessage = null; // a block still on its way would speak after the end
      const settings = stream.getAudioTracks()[0].getSettings();
      for (const track of stream.getTracks()) track.stop();
      source.disconnect();
      const rate = context.sampleRate;
      context.close();
      button.textContent = "Record again";
      if (count) fill(field, wav(blocks, count, rate, said(settings)), count / rate);
      else level.textContent = "Nothing was recorded.";
    },
  };
}

// What the browser says of the microphone, as one line of text.
function said(settings) {
  const names = [...Object.keys(WANTED), "sampleRate", "channelCount"];
  return names.map((name) => `${name}=${settings[name] ?? "not told"}`).join("; ");
}

function fill(field, bytes, seconds) {
  const time = new Date().toISOString().slice(11, 19).replaceAll(":", "");
  const file = new File([bytes], `tap-${time}.wav`, { type: "audio/wav" });
  const chosen = new DataTransfer();
  chosen.items.add(file);
  const input = field.querySelector("input[type=file]");
  input.files = chosen.files;
  input.dispatchEvent(new Event("input", { bubbles: true }));
  const level = field.querySelector(".level");
  const player = field.querySelector("audio") ?? document.createElement("audio");
  URL.revokeObjectURL(player.src);
  player.controls = true;
  player.src = URL.createObjectURL(file);
  level.after(player);
  level.textContent = `Recorded, ${seconds.toFixed(1)} s. Listen, then work it out.`;
}

// RIFF/WAVE: one channel of 16 bits, with a comment in its INFO list.
function wav(blocks, count, rate, comment) {
  const words = new TextEncoder().encode(`${comment}\0`);
  const padded = words.length + (words.length % 2);
  const list = 4 + 8 + padded;
  const bytes = new ArrayBuffer(12 + 24 + 8 + list + 8 + 2 * count);
  const view = new DataView(bytes);
  let at = 0;
  const text = (four) => {
    for (const letter of four) view.setUint8(at++, letter.charCodeAt(0));
  };
  const long = (value) => {
    view.setUint32(at, value, true);
    at += 4;
  };
  const short = (value) => {
    view.setUint16(at, value, true);
    at += 2;
  };
  text("RIFF"), long(bytes.byteLength - 8), text("WAVE");
  text("fmt "), long(16), short(1), short(1), long(rate), long(2 * rate), short(2), short(16);
  text("LIST"), long(list), text("INFO"), text("ICMT"), long(words.length);
  new Uint8Array(bytes, at, words.length).set(words);
  at += padded;
  text("data"), long(2 * count);
  for (const block of blocks) {
    for (const value of block) {
      view.setInt16(at, Math.round(32767 * Math.min(1, Math.max(-1, value))), true);
      at += 2;
    }
  }
  return bytes;
}

const prepare = () => document.querySelectorAll("[data-recording]").forEach(ready);
prepare();
// a form whose fields are replaced has new ones to prepare
document.addEventListener("input", prepare);
