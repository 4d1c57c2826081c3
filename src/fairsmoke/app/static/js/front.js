// Draws the front of methods in the page's own width and colours, in place of the picture.
import { keepDrawn } from "./chart.js";

const figure = document.querySelector("[data-front]");
if (figure) await keepDrawn(figure, figure.dataset.front);
