// A bell that moves as its modes move it, in place of the drawing inside <mode-shapes>. Without
// this script the drawing stands; where the system asks for less motion, the bell stands bent.

const SECONDS = 2.4; // one swing to and fro
const LIGHT = [-0.354, 0.606, 0.727];
const TONES = ["--line", "--rule", "--wash", "--ground"];
const STEP = Math.PI / 24; // what an arrow key turns it by
const still = window.matchMedia("(prefers-reduced-motion: reduce)");

function numbers(packed, kind) {
  const bytes = Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));
  return new kind(bytes.buffer);
}

// From the bell's axes to the page's: right, up, toward the eye.
function turning(yaw, pitch) {
  const [c, s, d, t] = [Math.cos(yaw), Math.sin(yaw), Math.cos(pitch), Math.sin(pitch)];
  return [c, 0, s, t * s, d, -t * c, -d * s, t, d * c];
}

class ModeShapes extends HTMLElement {
  connectedCallback() {
    this.querySelector(".alive")?.remove(); // a copy of a page brings one that does nothing
    if (this.closest(".what-if")) return;
    const told = JSON.parse(this.dataset.shapes);
    this.points = Float64Array.from(numbers(told.points, Int32Array), (tenth) => tenth / 10);
    this.faces = numbers(told.faces, Uint16Array);
    this.moves = told.moves.map((packed) => numbers(packed, Int8Array));
    this.yaw = (told.yaw * Math.PI) / 180;
    this.pitch = (told.pitch * Math.PI) / 180;
    this.mode = 0;
    this.held = still.matches;
    this.measure(told.bent);
    this.build(told.names);
    this.seen = new IntersectionObserver(([entry]) => {
      this.inSight = entry.isIntersecting;
      this.wake();
    });
    this.seen.observe(this.canvas);
    still.addEventListener("change", (this.asked = () => this.hold(still.matches)));
  }

  disconnectedCallback() {
    cancelAnimationFrame(this.frame);
    this.seen?.disconnect();
    still.removeEventListener("change", this.asked);
  }

  measure(bent) {
    let [low, high, far, radius] = [Infinity, -Infinity, 0, 0];
    for (let at = 0; at < this.points.length; at += 3) {
      const [x, y, z] = this.points.subarray(at, at + 3);
      low = Math.min(low, z);
      high = Math.max(high, z);
      radius = Math.max(radius, Math.hypot(x, y));
    }
    for (let at = 2; at < this.points.length; at += 3) this.points[at] -= (low + high) / 2;
    for (let at = 0; at < this.points.length; at += 3)
      far = Math.max(far, Math.hypot(...this.points.subarray(at, at + 3)));
    this.most = (bent * radius) / 127;
    this.reach = far + bent * radius;
  }

  build(names) {
    const alive = document.createElement("div");
    alive.className = "alive";
    this.canvas = document.createElement("canvas");
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute("role", "img");
    const field = document.createElement("label");
    field.append("Shape ");
    const list = document.createElement("select");
    list.append(...names.map((name, index) => new Option(name, index)));
    field.append(list);
    this.button = document.createElement("button");
    this.button.type = "button";
    const row = document.createElement("p");
    row.className = "actions";
    row.append(field, this.button);
    const help = document.createElement("p");
    help.className = "help";
    help.textContent = "Drag the bell to turn it; or step to it and use the arrow keys.";
    alive.append(this.canvas, row, help);
    this.append(alive);
    list.addEventListener("change", () => {
      this.mode = Number(list.value);
      this.tell(names);
      this.wake();
    });
    this.button.addEventListener("click", () => this.hold(!this.held));
    this.canvas.addEventListener("keydown", (event) => this.turnByKey(event));
    this.canvas.addEventListener("pointerdown", (event) => this.turnByHand(event));
    this.tell(names);
    this.hold(this.held);
  }

  tell(names) {
    this.canvas.setAttribute("aria-label", `The bell moving at ${names[this.mode]}`);
  }

  hold(held) {
    this.held = held;
    this.button.textContent = held ? "Let it move" : "Hold it still";
    this.button.hidden = still.matches;
    this.wake();
  }

  wake() {
    cancelAnimationFrame(this.frame);
    this.frame = requestAnimationFrame((now) => this.show(now));
  }

  show(now) {
    this.draw(this.held ? 1 : Math.sin((2 * Math.PI * now) / 1000 / SECONDS));
    if (!this.held && this.inSight) this.wake();
  }

  turnByKey(event) {
    const [yaw, pitch] = {
      ArrowLeft: [-1, 0],
      ArrowRight: [1, 0],
      ArrowUp: [0, -1],
      ArrowDown: [0, 1],
    }[event.key] ?? [0, 0];
    if (!yaw && !pitch) return;
    event.preventDefault();
    this.turn(yaw * STEP, pitch * STEP);
  }

  turnByHand(event) {
    let [x, y] = [event.clientX, event.clientY];
    this.canvas.setPointerCapture(event.pointerId);
    const move = (next) => {
      this.turn((next.clientX - x) / 120, (next.clientY - y) / 120);
      [x, y] = [next.clientX, next.clientY];
    };
    this.canvas.addEventListener("pointermove", move);
    for (const end of ["pointerup", "pointercancel"])
      this.canvas.addEventListener(end, () => this.canvas.removeEventListener("pointermove", move), {
        once: true,
      });
  }

  turn(yaw, pitch) {
    this.yaw += yaw;
    this.pitch = Math.max(-Math.PI / 2, Math.min(Math.PI / 2, this.pitch + pitch));
    this.wake();
  }

  draw(swing) {
    const { canvas, points, faces } = this;
    const sharp = window.devicePixelRatio || 1;
    const [wide, tall] = [canvas.clientWidth * sharp, canvas.clientHeight * sharp];
    if (!wide || !tall) return;
    if (canvas.width !== Math.round(wide)) canvas.width = Math.round(wide);
    if (canvas.height !== Math.round(tall)) canvas.height = Math.round(tall);
    const scale = Math.min(wide, tall) / 2 / this.reach;
    const turn = turning(this.yaw, this.pitch);
    const move = this.moves[this.mode];
    const at = new Float64Array(points.length);
    for (let i = 0; i < points.length; i += 3) {
      const [x, y, z] = [0, 1, 2].map((d) => points[i + d] + this.most * swing * move[i + d]);
      for (let d = 0; d < 3; d += 1)
        at[i + d] = turn[3 * d] * x + turn[3 * d + 1] * y + turn[3 * d + 2] * z;
    }
    const ink = canvas.getContext("2d");
    const style = getComputedStyle(this);
    const tones = TONES.map((name) => style.getPropertyValue(name));
    ink.clearRect(0, 0, canvas.width, canvas.height);
    ink.strokeStyle = style.getPropertyValue("--soft");
    ink.lineWidth = 0.6 * sharp;
    ink.lineJoin = "round";
    for (const [face, bright] of this.turnedToTheEye(at, faces)) {
      ink.beginPath();
      for (let corner = 0; corner < 4; corner += 1) {
        const i = 3 * faces[4 * face + corner];
        ink.lineTo(wide / 2 + scale * at[i], tall / 2 - scale * at[i + 1]);
      }
      ink.closePath();
      ink.fillStyle = tones[Math.floor(Math.min(Math.max(bright, 0), 0.999) * tones.length)];
      ink.fill();
      ink.stroke();
    }
  }

  // The faces that can be seen, the far ones first, and how bright each is.
  turnedToTheEye(at, faces) {
    const seen = [];
    for (let face = 0; face < faces.length / 4; face += 1) {
      const [a, b, c, d] = [0, 1, 2, 3].map((corner) => 3 * faces[4 * face + corner]);
      const [p, q] = [[0, 1, 2].map((k) => at[c + k] - at[a + k]), [0, 1, 2].map((k) => at[d + k] - at[b + k])];
      const normal = [
        p[1] * q[2] - p[2] * q[1],
        p[2] * q[0] - p[0] * q[2],
        p[0] * q[1] - p[1] * q[0],
      ];
      const size = Math.hypot(...normal) || 1;
      if (normal[2] / size < 1e-3) continue;
      const bright = normal.reduce((sum, part, k) => sum + (part / size) * LIGHT[k], 0);
      seen.push([face, bright, at[a + 2] + at[b + 2] + at[c + 2] + at[d + 2]]);
    }
    return seen.sort((one, other) => one[2] - other[2]);
  }
}

customElements.define("mode-shapes", ModeShapes);
