// Where a calendar subscribes and a sensor sends: addresses to copy, each with the board's key.

import { el, heading } from "./dom.js";
import { openSheet } from "./sheets.js";

const addressLine = (text) => el("p", { cls: "address", text });

export async function doorsSheet() {
  const told = await fetch("/doors").then((answer) => answer.json()).catch(() => ({ refused: "the laptop did not answer" }));
  if (told.refused) return openSheet("Calendar and sensors", [el("p", { text: told.refused })]);
  return openSheet("Calendar and sensors", [
    heading("Subscribe in your calendar"), addressLine(told.calendar), el("p", { cls: "quiet", text: told.silent }),
    heading("A sensor or home hub sends a POST to"), addressLine(told.readings), addressLine(told.header), addressLine(told.example),
    el("p", { cls: "quiet", text: "Whoever has the key can read these dates and send readings. It is made anew when a phone is dropped." }),
  ]);
}
