// A cursor on the curve: pointer, touch and arrow keys show the figures of one round of weighings, and past the
// newest one what is expected on the days to come.
"use strict";

function awaken(figure) {
  const svg = figure.querySelector("svg");
  const readOut = figure.querySelector("[data-curve-read-out]");
  const line = figure.querySelector(".curve-cursor");
  const stops = [...figure.querySelectorAll(".curve-stop")];
  if (stops.length === 0) return;
  const weighed = stops.filter((stop) => !("foretold" in stop.dataset)).length;
  let current = Math.max(weighed, 1) - 1;

  function show(index) {
    current = Math.min(Math.max(index, 0), stops.length - 1);
    const { x, say } = stops[current].dataset;
    line.setAttribute("x1", x);
    line.setAttribute("x2", x);
    readOut.textContent = say;
    readOut.setAttribute("aria-valuenow", String(current + 1));
    readOut.setAttribute("aria-valuetext", say);
  }

  function follow(event) {
    const point = new DOMPoint(event.clientX, event.clientY);
    const { x } = point.matrixTransform(svg.getScreenCTM().inverse());
    const away = stops.map((stop) => Math.abs(Number(stop.dataset.x) - x));
    line.setAttribute("visibility", "visible");
    show(away.indexOf(Math.min(...away)));
  }

  const steps = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, Home: -Infinity, End: Infinity };
  readOut.addEventListener("keydown", (event) => {
    if (!(event.key in steps)) return;
    event.preventDefault();
    show(current + steps[event.key]);
  });
  readOut.addEventListener("focus", () => line.setAttribute("visibility", "visible"));
  readOut.addEventListener("blur", () => line.setAttribute("visibility", "hidden"));
  svg.addEventListener("pointerdown", follow);
  svg.addEventListener("pointermove", follow);
  svg.addEventListener("pointerleave", () => line.setAttribute("visibility", "hidden"));

  const slider = { role: "slider", tabindex: "0", "aria-label": readOut.dataset.label,
    "aria-valuemin": "1", "aria-valuemax": String(stops.length) };
  for (const [name, value] of Object.entries(slider)) readOut.setAttribute(name, value);
  readOut.hidden = false;
  show(current);
}

document.querySelectorAll("[data-curve]").forEach(awaken);
