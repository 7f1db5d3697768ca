import js
from board import serve

serve(lambda text: str(js.ask(text)))
