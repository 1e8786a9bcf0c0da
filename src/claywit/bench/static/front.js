import { wireForms } from "./wire.js";

wireForms();
