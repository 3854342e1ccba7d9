// Printing is one press; straight after a delivery it starts by itself.
"use strict";
const button = document.getElementById("print");
if (button) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
  if (button.dataset.now === "yes") window.addEventListener("load", () => window.print());
}
