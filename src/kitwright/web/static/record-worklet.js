// Runs beside the sound: hands each block of the first channel to the page, as it came.

class Taken extends AudioWorkletProcessor {
  process([input]) {
    if (input[0]?.length) this.port.postMessage(input[0].slice());
    return true;
  }
}

registerProcessor("taken", Taken);
