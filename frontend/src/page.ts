// Every page: parts that the server redraws (htmx), clocks that tick here, changes that arrive by themselves.
import "htmx.org";
import { startClocks } from "./clocks";
import { keepDrafts } from "./draft";
import { startEntry } from "./entry";
import { keepFolds } from "./folds";
import { listen } from "./live";
import { nameRequests } from "./tab";
import { showTold } from "./told";

nameRequests();
startClocks();
startEntry();
keepDrafts();
keepFolds();
listen();
showTold();
