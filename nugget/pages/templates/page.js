"use strict";
document.documentElement.classList.add("scripted");

// Section in time: a slider and a button over frames that are all in the page.
for (const box of document.querySelectorAll(".frames")) {
  const frames = [...box.querySelectorAll(".frame")];
  const slider = box.querySelector("input[type=range]");
  const button = box.querySelector("button");
  const said = box.querySelector("output");
  let timer = 0;
  const show = (k) => {
    frames.forEach((frame, n) => frame.classList.toggle("now", n === k));
    slider.value = k;
    slider.setAttribute("aria-valuetext", frames[k].dataset.time);
    said.textContent = frames[k].dataset.time;
  };
  const rest = () => { clearInterval(timer); timer = 0; button.textContent = button.dataset.start; };
  slider.addEventListener("input", () => { rest(); show(Number(slider.value)); });
  button.addEventListener("click", () => {
    if (timer) { rest(); return; }
    button.textContent = button.dataset.stop;
    timer = setInterval(() => show((Number(slider.value) + 1) % frames.length), 350);
  });
  show(Math.max(0, frames.findIndex((frame) => frame.classList.contains("now"))));
}

// Values of every line under the pointer, or at the place that the arrow keys move to.
const words = (value) => (value === null ? "none" : String(value));
for (const box of document.querySelectorAll(".plot")) {
  const svg = box.querySelector("svg");
  const cursor = svg.querySelector(".cursor");
  const said = box.querySelector(".reading");
  const data = JSON.parse(box.dataset.plot);
  let place = -1;
  const show = (k) => {
    place = Math.min(Math.max(k, 0), data.at.length - 1);
    cursor.style.visibility = "visible";
    cursor.setAttribute("x1", data.at[place]);
    cursor.setAttribute("x2", data.at[place]);
    const lines = data.series.filter((one) => !one.off);
    said.textContent = `${data.xName} ${words(data.x[place])} ${data.xUnit}: ` +
      lines.map((one) => `${one.name} ${words(one.y[place])}${one.y[place] === null ? "" : " " + one.unit}`).join("; ");
    box.dispatchEvent(new CustomEvent("column", { detail: place, bubbles: true }));
  };
  box.redraw = (off) => {
    for (const one of data.series) if (one.group in off) one.off = off[one.group];
    if (place >= 0) show(place);
  };
  svg.addEventListener("pointermove", (event) => {
    const frame = svg.getBoundingClientRect();
    const x = (event.clientX - frame.left) * svg.viewBox.baseVal.width / frame.width;
    show(data.at.reduce((best, at, k) => (Math.abs(at - x) < Math.abs(data.at[best] - x) ? k : best), 0));
  });
  svg.addEventListener("keydown", (event) => {
    const by = { ArrowRight: 1, ArrowLeft: -1, PageUp: 10, PageDown: -10, Home: -1e9, End: 1e9 }[event.key];
    if (by === undefined) return;
    event.preventDefault();
    show(place < 0 ? 0 : place + by);
  });
}

// Boxes that switch groups of lines on and off.
for (const input of document.querySelectorAll("input[data-shows]")) {
  input.addEventListener("change", () => {
    const group = input.dataset.shows;
    for (const part of document.querySelectorAll("[data-group]")) {
      if (part.dataset.group === group) part.classList.toggle("hidden", !input.checked);
    }
    for (const box of document.querySelectorAll(".plot")) box.redraw({ [group]: !input.checked });
  });
}

// The growth curve that belongs to the column under the pointer.
for (const panel of document.querySelectorAll("[data-columns]")) {
  const curves = [...panel.querySelectorAll("[data-column]")];
  panel.querySelector("[data-chart]").addEventListener("column", (event) => {
    for (const curve of curves) curve.classList.toggle("hidden", Number(curve.dataset.column) !== event.detail);
  });
}
