"""How numbers and dates are written where that is another way than the language's usual one."""
