// Orders: packs are stepped up and down by thumb; without this they are typed.
"use strict";

for (const place of document.querySelectorAll("[data-packs]")) {
  const field = place.querySelector("input");
  const name = document.querySelector(`label[for="${field.id}"]`).textContent.trim();
  const step = (by, sign, word) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = sign;
    button.setAttribute("aria-label", `${word}: ${name}`);
    button.addEventListener("click", () => {
      const now = Number.parseInt(field.value, 10) || 0;
      field.value = String(Math.max(now + by, 0));
      field.dispatchEvent(new Event("change", { bubbles: true }));
    });
    return button;
  };
  field.before(step(-1, "−", "One pack less"));
  field.after(step(1, "+", "One pack more"));
}
