// What the type checker is told of pages: an element is looked up by what the template calls
// it, and is used as what it is there.
interface Document { getElementById(id: string): any; querySelector(s: string): any; querySelectorAll(s: string): NodeListOf<any>; createElement(s: string): any; activeElement: any }
interface Element { querySelector(s: string): any; querySelectorAll(s: string): NodeListOf<any>; closest(s: string): any }
interface DocumentFragment { querySelector(s: string): any; querySelectorAll(s: string): NodeListOf<any> }
interface EventTarget { [name: string]: any }
interface ParentNode { [name: string]: any }
